import { expect, test } from "vitest";
import { renderSheet } from "../../src/play/strings.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import { studyNamed } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";
import { centsOff, onsetSec, sameSamples } from "./tone.js";

const RATE = 44100;

test("strings: a study is as long as its bars and a tail, peaks at -3 dB, and is the same every time", () => {
  const sheet = toSheet(studyNamed("mixolydian-over-a"));
  const sound = renderSheet(sheet, { sampleRateHz: RATE });
  expect(sound.length / RATE).toBeCloseTo((32 * 60) / sheet.grid.tempoBpm + 1.5, 2);
  let peak = 0;
  for (const x of sound) peak = Math.max(peak, Math.abs(x));
  expect(20 * Math.log10(peak)).toBeCloseTo(-3, 2);
  expect(sameSamples(renderSheet(sheet, { sampleRateHz: RATE }), sound)).toBe(true);
});

test("strings: one note after another sounds at its beat and at its pitch, capo included", () => {
  const base = toSheet(studyNamed("ladder-and-lamp"));
  const notes = [0, 1, 2, 3].map((k) => ({
    ...base.notes[0],
    bar: 1,
    tick: 24 * k,
    lengthTicks: 24,
    string: 3 - (k % 2),
    fret: k,
    midi: 60 + 3 * k,
    marks: [],
    finger: "i" as const,
  }));
  const sheet = { ...base, notes, grid: { ...base.grid, tempoBpm: 60, barCount: 1 } } as Sheet;
  const sound = renderSheet(sheet, { sampleRateHz: RATE });
  for (const [k, note] of notes.entries()) {
    expect(Math.abs(onsetSec(sound, RATE, k) - k)).toBeLessThan(0.008);
    expect(
      Math.abs(centsOff(sound, RATE, 440 * 2 ** ((note.midi - 69) / 12), k + 0.15, k + 0.8)),
    ).toBeLessThan(2.5);
  }
});

test("strings: a sheet with no notes is silence of its bars, not an error", () => {
  const sheet = { ...toSheet(studyNamed("low-tide")), notes: [] };
  expect(renderSheet(sheet, { sampleRateHz: 8000 }).every((x) => x === 0)).toBe(true);
});
