/** Walks a Standard MIDI File by its lengths before anything is read from it: declared lengths are not believed.
 * A length that reaches past its chunk made the parsing library read on without end. Source: Standard MIDI Files 1.0, "Chunks", "Events". */
import { PulgarError } from "../base/errors.js";

const HEADER_LEN = 6;
const CHUNK_HEAD_LEN = 8;
const MOST_VARIABLE_BYTES = 4; // a variable-length quantity is at most 0FFFFFFF

/** @throws PulgarError "bad-midi" with the byte where the file does not hold what it declares */
export function checkMidiBounds(bytes: Uint8Array): void {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const name = (at: number): string => String.fromCharCode(...bytes.subarray(at, at + 4));
  if (bytes.length < CHUNK_HEAD_LEN + HEADER_LEN || name(0) !== "MThd") throw bad(0, "no MIDI header");
  if (view.getUint32(4) < HEADER_LEN)
    throw bad(4, `a header of ${view.getUint32(4)} bytes, need ${HEADER_LEN}`);
  let at = 0;
  while (at < bytes.length) {
    if (at + CHUNK_HEAD_LEN > bytes.length) throw bad(at, "a chunk without its length");
    const endAt = at + CHUNK_HEAD_LEN + view.getUint32(at + 4);
    if (endAt > bytes.length)
      throw bad(at + 4, `a chunk of ${view.getUint32(at + 4)} bytes, the file ends before`);
    if (name(at) === "MTrk") checkTrack(bytes, at + CHUNK_HEAD_LEN, endAt);
    at = endAt;
  }
}

/** Every event of a track must lie within it. */
function checkTrack(bytes: Uint8Array, startAt: number, endAt: number): void {
  let at = startAt;
  let running = 0;
  const next = (): number => {
    if (at >= endAt) throw bad(at, "an event that reaches past its track");
    return bytes[at++] ?? 0;
  };
  const variable = (): number => {
    let value = 0;
    for (let k = 0; k < MOST_VARIABLE_BYTES; k++) {
      const byte = next();
      value = value * 128 + (byte & 0x7f);
      if (byte < 0x80) return value;
    }
    throw bad(at, "a number of more than four bytes");
  };
  while (at < endAt) {
    variable(); // delta time
    const first = next();
    if (first === 0xff) next(); // kind of a meta event
    if (first === 0xff || first === 0xf0 || first === 0xf7) {
      const dataLen = variable(); // read first: it moves `at`
      at += dataLen;
      if (at > endAt) throw bad(at, "an event that reaches past its track");
      continue;
    }
    if (first >= 0xf0) throw bad(at - 1, `event ${first.toString(16)}, which a file cannot hold`);
    const isStatus = first >= 0x80;
    if (isStatus) running = first;
    if (running === 0) throw bad(at - 1, "data before any event");
    const kind = running >> 4;
    const dataLen = kind === 0xc || kind === 0xd ? 1 : 2;
    for (let k = isStatus ? 0 : 1; k < dataLen; k++) next();
  }
}

const bad = (at: number, what: string): PulgarError =>
  new PulgarError("bad-midi", `byte ${at}: ${what}`, "Save the file again in the program that made it.");
