/** A file becomes a checked Take: our decoders first, ffmpeg for what they cannot read. */
import { createReadStream } from "node:fs";
import { open, readFile, stat } from "node:fs/promises";
import { basename } from "node:path";
import decodeWhole, { decodeChunked } from "audio-decode";
import { type AudioChunk, checkTake, takeFromChunks } from "../src/audio/decode.js";
import { isIsoCut, type Sniffed, sniffContainer } from "../src/audio/sniff.js";
import type { Take } from "../src/audio/take.js";
import { PulgarError } from "../src/base/errors.js";
import { ffmpegAsWav, findFfmpeg } from "./ffmpeg.js";
import { fileTrouble } from "./file-trouble.js";
import { letGo, letGoNowAndThen } from "./let-go.js";

export type OpenedTake = { take: Take; channelCount: number; fileName: string; decodedBy: string };

const HEAD_LEN = 64 * 1024;
const READ_LEN = 1 << 18; // 1.5 s of CD sound
const WHOLE_LIMIT_LEN = 1 << 29; // 512 MiB: a file this large is never read whole, declared sizes are not believed
const LEAST_BYTES_A_SEC = 500; // no codec that is read here goes under 4 kbit/s: a header that promises more sound than that is not believed
const CUT_TOLERANCE_SEC = 0.25; // an encoder's delay and padding stay under this

export type OpenTakeOptions = { isPartialOk?: boolean; rateHz?: number; isShared?: boolean };

/** Reads and decodes an audio or video file.
 * @param options.isPartialOk take what is there of a file that was cut short, instead of refusing it
 * @param options.rateHz rate to bring it to while it is read; its own when not given
 * @param options.isShared in memory that several threads may see
 * @throws PulgarError for whatever cannot be a take: missing, folder, empty, not sound, cut short, NaN, silent */
export async function openTake(path: string, options: OpenTakeOptions = {}): Promise<OpenedTake> {
  const fileName = basename(path);
  const { head, fileLen } = await readHead(path, fileName);
  const sniffed = sniffContainer(head);
  if (sniffed.container === "text")
    throw new PulgarError(
      "not-audio",
      `${fileName}: this is text, not sound`,
      "Give the recording itself: WAV, FLAC, MP3, M4A, OGG, MP4, MOV, MKV.",
    );
  if (sniffed.container === "wav" && sniffed.bits === 0)
    throw new PulgarError(
      "not-audio",
      `${fileName}: its header says 0 bits a sample; need 8 to 64`,
      "The header is damaged: export the recording again.",
    );
  const want = {
    ...(options.rateHz === undefined ? {} : { rateHz: options.rateHz }),
    isShared: options.isShared === true,
    expectedSec: Math.min(sniffed.declaredSec ?? 0, fileLen / LEAST_BYTES_A_SEC),
  };
  const opened = await decodeByChain(path, fileName, fileLen, sniffed, want);
  if (!options.isPartialOk) await refuseCut(path, fileName, fileLen, sniffed, opened.take);
  letGo();
  checkTake(opened.take, fileName);
  return { ...opened, fileName };
}

async function readHead(path: string, fileName: string): Promise<{ head: Uint8Array; fileLen: number }> {
  let fileLen: number;
  try {
    const info = await stat(path);
    if (info.isDirectory())
      throw new PulgarError("is-folder", `${fileName}: is a folder; need a recording`, "Name a file in it.");
    fileLen = info.size;
  } catch (e) {
    throw e instanceof PulgarError ? e : fileTrouble(e, path);
  }
  if (fileLen === 0)
    throw new PulgarError("empty-file", `${fileName}: empty (0 bytes)`, "Copy the recording again.");
  try {
    const file = await open(path, "r");
    try {
      const head = new Uint8Array(Math.min(HEAD_LEN, fileLen));
      const { bytesRead } = await file.read(head, 0, head.length, 0);
      return { head: head.subarray(0, bytesRead), fileLen };
    } finally {
      await file.close();
    }
  } catch (e) {
    throw fileTrouble(e, path);
  }
}

type Want = { rateHz?: number; expectedSec: number; isShared: boolean };

async function decodeByChain(
  path: string,
  fileName: string,
  fileLen: number,
  sniffed: Sniffed,
  want: Want,
): Promise<{ take: Take; channelCount: number; decodedBy: string }> {
  let trouble: unknown;
  if (sniffed.container !== "unknown") {
    for (const attempt of [
      () => chunked(path, sniffed, fileName, want),
      () => whole(path, fileLen, fileName, want),
    ]) {
      try {
        return { ...(await attempt()), decodedBy: "audio-decode" };
      } catch (e) {
        if (e instanceof PulgarError && e.code !== "no-sound") throw e;
        trouble = e;
      }
    }
  }
  const ffmpegPath = await findFfmpeg();
  if (ffmpegPath) {
    const wav = decodeChunked(ffmpegAsWav(path, ffmpegPath, fileName), "wav");
    return { ...(await takeFromChunks(aligned(wav), fileName, want)), decodedBy: "ffmpeg" };
  }
  if (/no audio track/i.test(String(trouble)))
    throw new PulgarError(
      "no-sound",
      `${fileName}: has no sound track`,
      "Save the video with its sound, or give the sound file.",
      trouble,
    );
  if (trouble instanceof PulgarError) throw trouble;
  throw new PulgarError(
    "not-audio",
    `${fileName}: not a recording that can be read here (${fileLen} bytes)`,
    "Accepted: WAV, FLAC, MP3, M4A, OGG, Opus, AIFF, CAF, MP4, MOV, MKV, WebM. With ffmpeg installed, more.",
    trouble,
  );
}

async function* aligned(chunks: AsyncIterable<AudioChunk>): AsyncGenerator<AudioChunk> {
  for await (const chunk of chunks) yield chunk;
}

function chunked(path: string, sniffed: Sniffed, fileName: string, want: Want) {
  const bytes = createReadStream(path, { highWaterMark: READ_LEN });
  const source = (async function* () {
    const dropOld = letGoNowAndThen();
    for await (const part of bytes as AsyncIterable<Buffer>) {
      dropOld();
      yield part.byteOffset % 8 === 0 ? part : new Uint8Array(part); // decoders want their numbers aligned
    }
  })();
  return takeFromChunks(decodeChunked(source, sniffed.container as "wav"), fileName, want);
}

async function whole(path: string, fileLen: number, fileName: string, want: Want) {
  if (fileLen > WHOLE_LIMIT_LEN) throw new Error("too large to read whole");
  return takeFromChunks([await decodeWhole(new Uint8Array(await readFile(path)))], fileName, want);
}

async function refuseCut(
  path: string,
  fileName: string,
  fileLen: number,
  sniffed: Sniffed,
  take: Take,
): Promise<void> {
  const heardSec = take.samples.length / take.sampleRateHz;
  const { declaredSec } = sniffed;
  let isCut = false;
  if (sniffed.container === "m4a") {
    const file = await open(path, "r");
    try {
      isCut = await readsAsCut(file, fileLen);
    } finally {
      await file.close();
    }
  }
  if (
    isCut ||
    (declaredSec !== undefined && heardSec < declaredSec - Math.max(CUT_TOLERANCE_SEC, declaredSec * 0.02))
  )
    throw new PulgarError(
      "truncated",
      `${fileName}: ends early, ${heardSec.toFixed(1)} s of ${declaredSec === undefined ? "an unknown length" : `${declaredSec.toFixed(1)} s`}`,
      "Copy the file again; or add --partial to use what is there.",
    );
}

async function readsAsCut(file: Awaited<ReturnType<typeof open>>, fileLen: number): Promise<boolean> {
  // isIsoCut wants a synchronous reader: fetch each box head it asks for, again and again, until it has all
  const seen = new Map<number, Uint8Array>();
  for (;;) {
    let wanted: { startIdx: number; len: number } | undefined;
    const result = isIsoCut((startIdx, len) => {
      const got = seen.get(startIdx);
      if (got) return got;
      wanted ??= { startIdx, len };
      return new Uint8Array(0);
    }, fileLen);
    if (!wanted) return result;
    const bytes = new Uint8Array(wanted.len);
    const { bytesRead } = await file.read(bytes, 0, wanted.len, wanted.startIdx);
    seen.set(wanted.startIdx, bytes.subarray(0, bytesRead));
  }
}
