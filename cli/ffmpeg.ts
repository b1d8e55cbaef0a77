/** The one file that knows ffmpeg: where it is, and how to have it read what our decoders cannot.
 * fluent-ffmpeg works but was archived in May 2025, so nothing else may import it. */
import { spawn } from "node:child_process";
import { existsSync } from "node:fs";
import { createRequire } from "node:module";
import ffmpegCommand from "fluent-ffmpeg";
import { PulgarError } from "../src/base/errors.js";

let found: Promise<string | undefined> | undefined;

/** Path of a working ffmpeg: FFMPEG_PATH, then the ffmpeg-static package if its file came with the install, then PATH.
 * Each is proved with `-version`; asked once a run. */
export function findFfmpeg(): Promise<string | undefined> {
  found ??= searchFfmpeg();
  return found;
}

async function searchFfmpeg(): Promise<string | undefined> {
  const named = process.env.FFMPEG_PATH;
  const candidates = [named, staticPath(), "ffmpeg"];
  for (const path of candidates) if (path && (await answersVersion(path))) return path;
  return undefined;
}

function staticPath(): string | undefined {
  try {
    const path: unknown = createRequire(import.meta.url)("ffmpeg-static");
    return typeof path === "string" && existsSync(path) ? path : undefined;
  } catch {
    return undefined; // an optional dependency: absent is one of its two normal states
  }
}

function answersVersion(path: string): Promise<boolean> {
  return new Promise((done) => {
    const child = spawn(path, ["-version"], { stdio: "ignore", timeout: 10_000 });
    child.on("error", () => done(false));
    child.on("exit", (code) => done(code === 0));
  });
}

/** Has ffmpeg read the first sound track of `path`; yields WAV bytes (32-bit float, all channels as recorded).
 * @throws PulgarError "not-audio" with ffmpeg's own last line */
export async function* ffmpegAsWav(
  path: string,
  ffmpegPath: string,
  fileName: string,
): AsyncGenerator<Uint8Array> {
  const command = ffmpegCommand(path)
    .setFfmpegPath(ffmpegPath)
    .noVideo()
    .outputOptions(["-map", "0:a:0"])
    .audioCodec("pcm_f32le")
    .format("wav");
  let failure: { error: Error; stderr: string } | undefined;
  command.on("error", (error: Error, _out: string | null, stderr: string | null) => {
    failure = { error, stderr: stderr ?? "" };
  });
  const stream = command.pipe();
  try {
    for await (const chunk of stream as AsyncIterable<Buffer>) yield new Uint8Array(chunk);
  } finally {
    command.kill("SIGKILL");
  }
  if (failure) {
    const lines = failure.stderr.trim().split("\n");
    const last = (lines.at(-1) ?? failure.error.message).replaceAll(path, fileName);
    const hasNoSound = /matches no streams/.test(failure.stderr);
    throw new PulgarError(
      hasNoSound ? "no-sound" : "not-audio",
      hasNoSound ? `${fileName}: has no sound track` : `${fileName}: could not be decoded (${last})`,
      hasNoSound
        ? "Save the video with its sound, or give the sound file."
        : "Convert it to WAV, FLAC, MP3, M4A or MP4.",
      failure.error,
    );
  }
}
