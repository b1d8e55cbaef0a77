// Grey pictures for the tests: PGM in, PNG in and out (8-bit grey, no interlace), and two compared by the mean of small squares.
import { deflateSync, inflateSync } from "node:zlib";

/** @property pixels rows from the top, 0 black … 255 white */
export type GrayPicture = { width: number; height: number; pixels: Uint8Array };

/** Source: W3C PNG specification, third edition, chunks IHDR and IDAT and the five filters of section 9. */
export function readGrayPng(bytes: Uint8Array): GrayPicture {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  let width = 0;
  let height = 0;
  const packed: Uint8Array[] = [];
  for (let at = 8; at + 12 <= bytes.length; ) {
    const len = view.getUint32(at);
    const kind = String.fromCharCode(...bytes.subarray(at + 4, at + 8));
    if (kind === "IHDR") {
      width = view.getUint32(at + 8);
      height = view.getUint32(at + 12);
      const [depth, colour, , , interlace] = bytes.subarray(at + 16, at + 21);
      if (depth !== 8 || colour !== 0 || interlace !== 0)
        throw new Error("want an 8-bit grey PNG, not interlaced");
    }
    if (kind === "IDAT") packed.push(bytes.subarray(at + 8, at + 8 + len));
    at += 12 + len;
  }
  const raw = inflateSync(Buffer.concat(packed));
  const pixels = new Uint8Array(width * height);
  for (let y = 0; y < height; y++) {
    const filter = raw[y * (width + 1)] ?? 0;
    for (let x = 0; x < width; x++) {
      const left = x > 0 ? (pixels[y * width + x - 1] ?? 0) : 0;
      const up = y > 0 ? (pixels[(y - 1) * width + x] ?? 0) : 0;
      const corner = x > 0 && y > 0 ? (pixels[(y - 1) * width + x - 1] ?? 0) : 0;
      const guess = [0, left, up, (left + up) >> 1, paeth(left, up, corner)][filter] ?? 0;
      pixels[y * width + x] = (raw[y * (width + 1) + 1 + x] ?? 0) + guess;
    }
  }
  return { width, height, pixels };
}

/** Source: netpbm, pgm(5), the binary form "P5". */
export function readPgm(bytes: Uint8Array): GrayPicture {
  const head = /^P5\s+(\d+)\s+(\d+)\s+255\s/.exec(String.fromCharCode(...bytes.subarray(0, 100)));
  if (!head) throw new Error("want a PGM of 255 levels");
  const [width, height] = [Number(head[1]), Number(head[2])];
  return { width, height, pixels: bytes.slice(head[0].length, head[0].length + width * height) };
}

/** The same PNG that `readGrayPng` reads, each row as its difference from the row above. */
export function writeGrayPng({ width, height, pixels }: GrayPicture): Uint8Array {
  const raw = new Uint8Array(height * (width + 1));
  for (let y = 0; y < height; y++) {
    raw[y * (width + 1)] = 2; // filter "up"
    for (let x = 0; x < width; x++) {
      const up = y > 0 ? (pixels[(y - 1) * width + x] ?? 0) : 0;
      raw[y * (width + 1) + 1 + x] = (pixels[y * width + x] ?? 0) - up;
    }
  }
  const size = Buffer.alloc(13);
  size.writeUInt32BE(width, 0);
  size.writeUInt32BE(height, 4);
  size[8] = 8;
  return new Uint8Array(
    Buffer.concat([
      Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]),
      chunk("IHDR", size),
      chunk("IDAT", deflateSync(raw, { level: 9 })),
      chunk("IEND", Buffer.alloc(0)),
    ]),
  );
}

function chunk(kind: string, data: Uint8Array): Buffer {
  const body = Buffer.concat([Buffer.from(kind, "latin1"), data]);
  const out = Buffer.alloc(body.length + 8);
  out.writeUInt32BE(data.length, 0);
  body.copy(out, 4);
  out.writeUInt32BE(crc32(body), body.length + 4);
  return out;
}

/** W3C PNG, annex D: the CRC of ISO 3309. */
function crc32(bytes: Uint8Array): number {
  let crc = 0xffffffff;
  for (const byte of bytes) {
    crc ^= byte;
    for (let bit = 0; bit < 8; bit++) crc = crc & 1 ? (crc >>> 1) ^ 0xedb88320 : crc >>> 1;
  }
  return (crc ^ 0xffffffff) >>> 0;
}

function paeth(left: number, up: number, corner: number): number {
  const guess = left + up - corner;
  const [a, b, c] = [left, up, corner].map((v) => Math.abs(guess - v)) as [number, number, number];
  return a <= b && a <= c ? left : b <= c ? up : corner;
}

/** Largest difference of the means of squares of `side` pixels, 0…255; 255 for pictures of different size. Edges drawn a little softer or
 * harder by another renderer leave such a mean as it is; a letter that is gone does not. */
export function worstSquare(a: GrayPicture, b: GrayPicture, side: number): number {
  if (a.width !== b.width || a.height !== b.height) return 255;
  let worst = 0;
  for (let top = 0; top < a.height; top += side)
    for (let left = 0; left < a.width; left += side) {
      let sum = 0;
      let count = 0;
      for (let y = top; y < Math.min(a.height, top + side); y++)
        for (let x = left; x < Math.min(a.width, left + side); x++) {
          sum += (a.pixels[y * a.width + x] ?? 0) - (b.pixels[y * a.width + x] ?? 0);
          count++;
        }
      worst = Math.max(worst, Math.abs(sum / count));
    }
  return worst;
}
