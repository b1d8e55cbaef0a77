import { spawnSync } from "node:child_process";
import { expect, test } from "vitest";
import { encodeWav } from "../../src/export/wav.js";
import { loudnessLufs, toTarget, truePeak } from "../../src/play/loudness.js";
import { renderSheet } from "../../src/play/strings.js";
import { hasProgram, testNeeding } from "../helpers/needs.js";
import { studyNamed } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";

const sine = (rate: number, sec: number, freqHz: number, db: number): Float32Array =>
  Float32Array.from(
    { length: rate * sec },
    (_, k) => 10 ** (db / 20) * Math.sin((2 * Math.PI * freqHz * k) / rate),
  );
function join(...parts: Float32Array[]): Float32Array {
  const out = new Float32Array(parts.reduce((sum, p) => sum + p.length, 0));
  let at = 0;
  for (const part of parts) {
    out.set(part, at);
    at += part.length;
  }
  return out;
}

for (const rate of [44100, 48000]) {
  test(`loudness: a stereo 1 kHz sine at -23 dBFS is -23 LUFS at ${rate} Hz (EBU Tech 3341, case 1)`, () => {
    const x = sine(rate, 20, 1000, -23);
    expect(Math.abs(loudnessLufs([x, x], rate) + 23)).toBeLessThan(0.1);
  });
  test(`loudness: quiet parts are gated out at ${rate} Hz (EBU Tech 3341, cases 3 and 4)`, () => {
    const three = join(sine(rate, 10, 1000, -36), sine(rate, 60, 1000, -23), sine(rate, 10, 1000, -36));
    expect(Math.abs(loudnessLufs([three, three], rate) + 23)).toBeLessThan(0.1);
    const four = join(
      sine(rate, 10, 1000, -72),
      sine(rate, 10, 1000, -36),
      sine(rate, 60, 1000, -23),
      sine(rate, 10, 1000, -36),
      sine(rate, 10, 1000, -72),
    );
    expect(Math.abs(loudnessLufs([four, four], rate) + 23)).toBeLessThan(0.1);
  });
}

test("loudness: silence and less than a block have none", () => {
  expect(loudnessLufs([new Float32Array(48000)], 48000)).toBe(Number.NEGATIVE_INFINITY);
  expect(loudnessLufs([sine(48000, 0.3, 1000, 0)], 48000)).toBe(Number.NEGATIVE_INFINITY);
});

test("loudness: the true peak of a quarter-rate sine at 45 degrees is 3 dB over its samples (EBU Tech 3341, case 15 in kind)", () => {
  const x = Float32Array.from({ length: 4800 }, (_, k) => 0.5 * Math.sin((Math.PI / 2) * k + Math.PI / 4));
  expect(Math.max(...x)).toBeCloseTo(0.5 * Math.SQRT1_2, 5);
  expect(20 * Math.log10(truePeak([x]) / 0.5)).toBeGreaterThan(-0.4);
  expect(20 * Math.log10(truePeak([x]) / 0.5)).toBeLessThan(0.3);
});

testNeeding(
  hasProgram("ffmpeg", ["-version"]),
  "ffmpeg",
  "loudness: a rendered study agrees with ffmpeg's ebur128 within 0.1 LU and 0.3 dB, before and after the target",
  () => {
    const samples = renderSheet(toSheet(studyNamed("stones-in-the-brook")), { sampleRateHz: 48000 });
    for (const isSet of [false, true]) {
      if (isSet) toTarget([samples], 48000);
      const made = spawnSync(
        "ffmpeg",
        ["-hide_banner", "-nostats", "-f", "wav", "-i", "-", "-af", "ebur128=peak=true", "-f", "null", "-"],
        { input: encodeWav(samples, 48000, { bits: 32 }), maxBuffer: 1 << 26 },
      );
      const summary = made.stderr.toString().split("Summary:")[1] ?? "";
      const lufs = Number(/I:\s+(-?[\d.]+) LUFS/.exec(summary)?.[1]);
      const peakDb = Number(/Peak:\s+(-?[\d.]+) dBFS/.exec(summary)?.[1]);
      expect(Math.abs(loudnessLufs([samples], 48000) - lufs)).toBeLessThan(0.1);
      expect(Math.abs(20 * Math.log10(truePeak([samples])) - peakDb)).toBeLessThan(0.3);
      if (isSet) {
        expect(Math.abs(lufs + 16)).toBeLessThan(0.2);
        expect(peakDb).toBeLessThan(-1);
      }
    }
  },
);
