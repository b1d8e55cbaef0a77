import { spawnSync } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import decode from "audio-decode";
import { expect, test } from "vitest";
import type { PulgarError } from "../../src/base/errors.js";
import { encodeWav } from "../../src/export/wav.js";
import { hasProgram, testNeeding } from "../helpers/needs.js";

const tone = Float32Array.from({ length: 4410 }, (_, k) => 0.8 * Math.sin(k * 0.1));
const quiet = tone.map((x) => x / 2);

for (const [bits, tolerance] of [
  [16, 1.5 / 32768],
  [24, 1.5 / 8388608],
  [32, 0],
] as const)
  test(`wav: ${bits} bits, two channels, read back by audio-decode within a step and a half (it takes the top step for 1)`, async () => {
    const read = await decode(encodeWav([tone, quiet], 44100, { bits }));
    expect(read.sampleRate).toBe(44100);
    for (const [idx, want] of [tone, quiet].entries()) {
      const got = read.channelData[idx] as Float32Array;
      expect(got.length).toBe(4410);
      let worst = 0;
      for (let k = 0; k < want.length; k++) worst = Math.max(worst, Math.abs((got[k] ?? 9) - (want[k] ?? 0)));
      expect(worst).toBeLessThanOrEqual(tolerance * 1.01);
    }
  });

test("wav: unequal channels are refused with their lengths", () => {
  expect(() => encodeWav([tone, tone.subarray(1)], 44100)).toThrowError(
    expect.objectContaining({
      code: "bad-shape",
      message: expect.stringContaining("4410, 4409"),
    }) as PulgarError,
  );
});

testNeeding(
  hasProgram("ffprobe", ["-version"]),
  "ffprobe",
  "wav: ffprobe agrees on format, rate, channels and length",
  () => {
    const folder = mkdtempSync(join(tmpdir(), "pulgar-wav-"));
    try {
      for (const [bits, codec] of [
        [16, "pcm_s16le"],
        [24, "pcm_s24le"],
        [32, "pcm_f32le"],
      ] as const) {
        const path = join(folder, `${bits}.wav`);
        writeFileSync(path, encodeWav([tone, quiet], 48000, { bits }));
        const made = spawnSync("ffprobe", [
          "-v",
          "error",
          "-show_entries",
          "stream=codec_name,sample_rate,channels,duration_ts",
          "-of",
          "csv=p=0",
          path,
        ]);
        expect(made.stderr.toString()).toBe("");
        expect(made.stdout.toString().trim()).toBe(`${codec},48000,2,4410`);
      }
    } finally {
      rmSync(folder, { recursive: true, force: true });
    }
  },
);
