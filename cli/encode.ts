/** Compressed practice tracks: WAV bytes in, MP3, Ogg Opus or M4A out, by whatever ffmpeg is at hand. */
import { PassThrough, Readable } from "node:stream";
import ffmpegCommand from "fluent-ffmpeg";
import { PulgarError } from "../src/base/errors.js";
import { findFfmpeg } from "./ffmpeg.js";

/** Codec and container of each kind; bit rates that keep a plucked string clean. */
const KINDS = {
  mp3: { codec: "libmp3lame", format: "mp3", bitRate: "160k", options: [] },
  ogg: { codec: "libopus", format: "ogg", bitRate: "112k", options: [] },
  m4a: { codec: "aac", format: "ipod", bitRate: "160k", options: ["-movflags", "frag_keyframe+empty_moov"] },
} as const;
export type EncodedKind = keyof typeof KINDS;

/** @throws PulgarError "no-encoder" when no ffmpeg answers or it cannot write that kind */
export async function encodeSound(wav: Uint8Array, kind: EncodedKind): Promise<Uint8Array> {
  const path = await findFfmpeg();
  if (path === undefined)
    throw new PulgarError(
      "no-encoder",
      `${kind}: no ffmpeg was found`,
      "Install ffmpeg or set FFMPEG_PATH, or write WAV.",
    );
  const { codec, format, bitRate, options } = KINDS[kind];
  return new Promise((done, failed) => {
    const out = new PassThrough();
    const chunks: Buffer[] = [];
    out.on("data", (chunk: Buffer) => chunks.push(chunk));
    const command = ffmpegCommand(Readable.from([Buffer.from(wav)]))
      .setFfmpegPath(path)
      .inputFormat("wav")
      .audioCodec(codec)
      .audioBitrate(bitRate)
      .outputOptions([...options])
      .format(format);
    command.on("error", (error: Error) =>
      failed(
        new PulgarError(
          "no-encoder",
          `${kind}: ffmpeg could not write it (${error.message})`,
          "Write WAV, or another kind.",
          error,
        ),
      ),
    );
    command.on("end", () => done(new Uint8Array(Buffer.concat(chunks))));
    command.pipe(out, { end: true });
  });
}
