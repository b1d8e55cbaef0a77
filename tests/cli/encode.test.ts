import { spawnSync } from "node:child_process";
import { expect, test, vi } from "vitest";
import { encodeSound } from "../../cli/encode.js";
import { encodeWav } from "../../src/export/wav.js";
import { hasProgram, testNeeding } from "../helpers/needs.js";

const tone = Float32Array.from({ length: 44100 }, (_, k) => 0.5 * Math.sin(k * 0.05));

for (const [kind, codec] of [
  ["mp3", "mp3"],
  ["ogg", "opus"],
  ["m4a", "aac"],
] as const)
  testNeeding(
    hasProgram("ffmpeg", ["-version"]) && hasProgram("ffprobe", ["-version"]),
    "ffmpeg and ffprobe",
    `encode: ${kind} is read by ffprobe as ${codec}, a second long within a tenth`,
    async () => {
      const bytes = await encodeSound(encodeWav(tone, 44100), kind);
      const seen = spawnSync(
        "ffprobe",
        ["-v", "error", "-show_entries", "stream=codec_name:packet=duration_time", "-of", "csv=p=0", "-"],
        { input: bytes },
      );
      const lines = seen.stdout.toString().trim().split("\n");
      expect(lines.some((line) => line.startsWith(codec))).toBe(true);
      const sec = lines
        .map(Number)
        .filter((x) => !Number.isNaN(x))
        .reduce((sum, x) => sum + x, 0);
      expect(Math.abs(sec - 1)).toBeLessThan(0.1);
    },
  );

test("encode: where no ffmpeg is at hand the error says so, and that WAV can be written", async () => {
  vi.resetModules();
  vi.doMock("../../cli/ffmpeg.js", () => ({ findFfmpeg: async () => undefined }));
  const alone = await import("../../cli/encode.js");
  await expect(alone.encodeSound(encodeWav(tone, 44100), "mp3")).rejects.toMatchObject({
    code: "no-encoder",
    hint: expect.stringContaining("WAV"),
  });
  vi.doUnmock("../../cli/ffmpeg.js");
});
