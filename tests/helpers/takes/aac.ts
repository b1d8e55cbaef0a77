import { spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import type { Take } from "../../../src/audio/take.js";
import { wavBytes } from "./wave.js";

let found: boolean | undefined;
/** Is an ffmpeg on PATH? */
export const hasFfmpeg = (): boolean => {
  found ??= spawnSync("ffmpeg", ["-version"], { stdio: "ignore" }).status === 0;
  return found;
};

/** Encodes a take with ffmpeg into a container by its ending, such as "take.m4a" or "take.mp4".
 * @throws Error when ffmpeg fails */
export function encodeWith(
  take: Take,
  fileName: string,
  args: readonly string[],
  inputArgs: readonly string[] = [],
): Uint8Array {
  const dir = mkdtempSync(join(tmpdir(), "pulgar-code-"));
  try {
    writeFileSync(join(dir, "in.wav"), wavBytes(take.samples, take.sampleRateHz));
    const run = spawnSync("ffmpeg", ["-v", "error", "-y", ...inputArgs, "-i", "in.wav", ...args, fileName], {
      cwd: dir,
    });
    if (run.status !== 0) throw new Error(`ffmpeg: ${run.stderr?.toString()}`);
    return readFileSync(join(dir, fileName));
  } finally {
    rmSync(dir, { recursive: true, force: true });
  }
}

/** A take after AAC and back, sample-aligned (the mp4 edit list takes the encoder's delay away). */
export function throughAac(take: Take, bitRateKbps: number): Take {
  const dir = mkdtempSync(join(tmpdir(), "pulgar-aac-"));
  try {
    writeFileSync(join(dir, "in.wav"), wavBytes(take.samples, take.sampleRateHz));
    const rate = ["-ar", String(take.sampleRateHz)];
    const encode = spawnSync(
      "ffmpeg",
      ["-v", "error", "-i", "in.wav", "-c:a", "aac", "-b:a", `${bitRateKbps}k`, "out.m4a"],
      { cwd: dir },
    );
    const decode = spawnSync(
      "ffmpeg",
      ["-v", "error", "-i", "out.m4a", ...rate, "-ac", "1", "-f", "f32le", "out.raw"],
      { cwd: dir },
    );
    if (encode.status !== 0 || decode.status !== 0)
      throw new Error(`ffmpeg: ${encode.stderr} ${decode.stderr}`);
    const raw = readFileSync(join(dir, "out.raw"));
    const all = new Float32Array(raw.buffer.slice(raw.byteOffset, raw.byteOffset + (raw.byteLength & ~3)));
    const samples = new Float32Array(take.samples.length);
    samples.set(all.subarray(0, samples.length));
    return { samples, sampleRateHz: take.sampleRateHz };
  } finally {
    rmSync(dir, { recursive: true, force: true });
  }
}
