import { expect, test } from "vitest";
import { mapSemitones } from "../../src/dsp/partials.js";

/** Tones with overtones falling as 1/h. */
function tones(midis: readonly number[], cents: number, rateHz: number, sec: number): Float32Array {
  const out = new Float32Array(Math.round(sec * rateHz));
  for (const midi of midis) {
    const hz = 440 * 2 ** ((midi - 69 + cents / 100) / 12);
    for (let h = 1; h <= 8 && h * hz < rateHz / 2; h++)
      for (let n = 0; n < out.length; n++)
        out[n] = (out[n] ?? 0) + (0.05 / h) * Math.sin((2 * Math.PI * h * hz * n) / rateHz);
  }
  return out;
}

for (const [cents, rateHz] of [
  [0, 44100],
  [37, 44100],
  [-44, 48000],
  [12.5, 22050],
  [-3, 8000],
] as const)
  test(`dsp partials: tones ${cents} cents off at ${rateHz} Hz are found within 1 cent (cents are 1200·log2 of the ratio, by definition)`, () => {
    const map = mapSemitones(tones([45, 52, 57, 61, 64], cents, rateHz, 3), rateHz);
    expect(Math.abs(map.tuningCents - cents)).toBeLessThan(1);
  });

test("dsp partials: a chord's own notes are stronger than the overtones that they share (by construction)", () => {
  const midis = [45, 55, 59, 62];
  const map = mapSemitones(tones(midis, 0, 44100, 3), 44100);
  const mid = Math.floor(map.frameCount / 2);
  const at = (midi: number): number => map.strength[mid * map.pitchCount + midi - map.lowestMidi] ?? 0;
  const weakest = Math.min(...midis.map(at));
  for (let midi = map.lowestMidi; midi < 90; midi++)
    if (!midis.includes(midi)) expect(at(midi)).toBeLessThan(0.5 * weakest);
});

test("dsp partials: silence has no strength and no tuning", () => {
  const map = mapSemitones(new Float32Array(44100), 44100);
  expect(map.tuningCents).toBe(0);
  expect(map.strength.every((x) => x === 0)).toBe(true);
});
