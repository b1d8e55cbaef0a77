import { expect, test } from "vitest";
import { makePicture, PICTURE_ROWS, wavePeaks, wavOf } from "../../../cli/page/picture.js";
import { PICTURE } from "../../../cli/page/view-types.js";
import { decodeWavForTest } from "./wav-door.js";

const RATE = 22050;
const sine = (freqHz: number, level: number, sec: number): Float32Array =>
  Float32Array.from({ length: sec * RATE }, (_, k) => level * Math.sin((2 * Math.PI * freqHz * k) / RATE));

// A4 = 440 Hz: ISO 16:1975. The others 440 · 2^((midi − 69)/12), by hand.
for (const [midi, freqHz] of [
  [40, 82.4069],
  [52, 164.8138],
  [64, 329.6276],
  [69, 440],
  [81, 880],
] as const)
  test(`picture: ${freqHz} Hz stands in the row of MIDI ${midi}, 0 dB at full scale`, () => {
    const tile = makePicture(sine(freqHz, 1, 2), RATE)(0);
    const column = tile.subarray(
      PICTURE.columnsPerSec * PICTURE_ROWS,
      (PICTURE.columnsPerSec + 1) * PICTURE_ROWS,
    );
    const row = column.indexOf(Math.max(...column));
    expect(PICTURE.lowestMidi + row / PICTURE.rowsPerSemitone).toBe(midi);
    expect(Math.max(...column)).toBeGreaterThan(245); // within 3 dB of the top
  });

test("picture: 40 dB softer is 40 dB darker, and silence is nothing", () => {
  const level = (amplitude: number): number => Math.max(...makePicture(sine(440, amplitude, 1), RATE)(0));
  expect(((level(1) - level(0.01)) / 255) * 80).toBeCloseTo(40, 0);
  expect(Math.max(...makePicture(new Float32Array(RATE), RATE)(0))).toBe(0);
});

test("picture: what lies past the end is empty", () => {
  expect(Math.max(...makePicture(sine(440, 1, 1), RATE)(1))).toBe(0);
});

test("picture: peaks a hundredth of a second each, against the loudest", () => {
  const samples = new Float32Array(RATE);
  samples[0] = 0.25;
  samples[RATE / 2] = -0.5;
  const peaks = wavePeaks(samples, RATE);
  expect(peaks).toHaveLength(100);
  expect([peaks[0], peaks[50], peaks[20]]).toEqual([128, 255, 0]);
});

test("picture: our own WAV copy is read back by the decoder to half a 16-bit step", async () => {
  const samples = sine(440, 0.5, 0.1);
  const back = await decodeWavForTest(wavOf(samples, RATE));
  expect(back.sampleRateHz).toBe(RATE);
  expect(back.samples).toHaveLength(samples.length);
  const worst = samples.reduce((most, x, k) => Math.max(most, Math.abs(x - (back.samples[k] ?? 9))), 0);
  expect(worst).toBeLessThan(1 / 32000);
});
