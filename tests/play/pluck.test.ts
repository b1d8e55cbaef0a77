import { expect, test } from "vitest";
import { addPluck } from "../../src/play/pluck.js";
import { centsOff, sameSamples } from "./tone.js";

const RATE = 44100;
const pluckOf = (freqHz: number, over: object = {}) => {
  const out = new Float32Array(RATE * 2);
  addPluck(
    out,
    RATE,
    {
      freqHz,
      startIdx: 0,
      holdSec: 1.5,
      loudness: 1,
      brightness: 0.5,
      pluckShare: 0.16,
      t60Sec: 5,
      seed: 1,
      ...over,
    },
    new Float32Array(4000),
  );
  return out;
};

for (const midi of [36, 38, 40, 45, 52, 59, 64, 71, 76, 83])
  test(`pluck: MIDI ${midi} sounds within 2 cents of 440 · 2^((midi − 69)/12)`, () => {
    const freqHz = 440 * 2 ** ((midi - 69) / 12);
    expect(Math.abs(centsOff(pluckOf(freqHz), RATE, freqHz, 0.2, 0.8))).toBeLessThan(2);
  });

test("pluck: it starts where it is told, dies after it is stopped, and adds to what is there", () => {
  const startIdx = 10000;
  const out = pluckOf(220, { startIdx, holdSec: 0.5 });
  expect(out.subarray(0, startIdx).reduce((m, x) => Math.max(m, Math.abs(x)), 0)).toBe(0);
  expect(Math.max(...out.subarray(startIdx, startIdx + 400).map(Math.abs))).toBeGreaterThan(0.1);
  const energy = (fromSec: number): number =>
    out
      .subarray(startIdx + fromSec * RATE, startIdx + (fromSec + 0.02) * RATE)
      .reduce((s, x) => s + x * x, 0);
  expect(10 * Math.log10(energy(0.62) / energy(0.45))).toBeLessThan(-25);
});

test("pluck: the time to fall by 60 dB is the one asked for, within a fifth", () => {
  const out = pluckOf(330, { t60Sec: 2, holdSec: 1.9 });
  const level = (sec: number): number =>
    10 * Math.log10(out.subarray(sec * RATE, (sec + 0.1) * RATE).reduce((s, x) => s + x * x, 0));
  const dbPerSec = (level(0.5) - level(1.5)) / 1;
  expect(60 / dbPerSec).toBeGreaterThan(1.6);
  expect(60 / dbPerSec).toBeLessThan(2.4);
});

test("pluck: the same seed gives the same samples, another seed others", () => {
  expect(sameSamples(pluckOf(220), pluckOf(220))).toBe(true);
  expect(sameSamples(pluckOf(220, { seed: 2 }), pluckOf(220))).toBe(false);
});
