import { expect, test } from "vitest";
import { TICKS_PER_BEAT } from "../../src/base/ticks.js";
import type { Grid } from "../../src/grid/grid.js";
import type { FrettedNote } from "../../src/hands/fretted.js";
import { BEAT_TICKS } from "../../src/sheet/bar-time.js";
import { buildSheet } from "../../src/sheet/build.js";

const GRID: Grid = {
  beatSec: [0.5, 1, 1.5, 2, 2.5],
  meter: { beats: 4, unit: 4 },
  tempoBpm: 120.0049,
  tempoFrom: "estimated",
  feel: "straight",
  swingRatio: 1,
  barCount: 1,
  pickupBeats: 0,
  countInBeats: 0,
  confidence: 0.8,
  readings: [],
};
const note = (tick: number, string: number, fret: number, more: Partial<FrettedNote> = {}): FrettedNote => ({
  onsetSec: 0.5 + tick / 48,
  offsetSec: 0.9 + tick / 48,
  midi: ([64, 59, 55, 50, 45, 40][string - 1] ?? 0) + fret,
  confidence: 0.9,
  velocity: 0.5,
  bar: 1,
  tick,
  lengthTicks: 24,
  string,
  fret,
  finger: "i",
  leftFinger: 0,
  by: "machine",
  placeConfidence: 0.5,
  alternatives: [],
  ...more,
});
const build = (notes: FrettedNote[], take = true) =>
  buildSheet({
    title: "T",
    notes,
    grid: GRID,
    chords: [],
    form: [],
    groupOfBar: [0],
    ...(take ? { take: { file: "t.wav", durationSec: 3, sampleRateHz: 44100, tuningCents: 0 } } : {}),
    tuningName: "standard",
    openMidi: [40, 45, 50, 55, 59, 64],
    capo: 0,
    findings: [],
  });

test("sheet/build: notes stand in order, confidence is note times place, tempo is rounded to hundredths", () => {
  const sheet = build([note(24, 1, 0), note(0, 1, 3), note(0, 5, 0)]);
  expect(sheet.notes.map((n) => [n.tick, n.string])).toEqual([
    [0, 5],
    [0, 1],
    [24, 1],
  ]);
  expect(sheet.notes[0]?.confidence).toBe(0.45);
  expect(sheet.grid.tempoBpm).toBe(120);
  expect(sheet.grid.firstBeatSec).toBe(0.5);
});

test("sheet/build: a string rings to its next note or the bar's end unless the sound plainly stops", () => {
  const sheet = build([
    note(0, 1, 0, { lengthTicks: 20 }),
    note(24, 1, 3, { lengthTicks: 40 }),
    note(0, 5, 0, { lengthTicks: 12 }),
  ]);
  expect(sheet.notes.map((n) => [n.string, n.tick, n.lengthTicks])).toEqual([
    [5, 0, 12],
    [1, 0, 24],
    [1, 24, 72],
  ]);
});

test("sheet/build: of two notes on one string at once the surer stays, and the other is said", () => {
  const sheet = build([note(0, 3, 2, { confidence: 0.5 }), note(0, 3, 4)]);
  expect(sheet.notes.map((n) => n.fret)).toEqual([4]);
  expect(sheet.findings.map((f) => [f.rule, f.bar])).toEqual([["string-twice", 1]]);
});

test("sheet/build: played bars stand written out, so no repeat signs; without a take there are no times", () => {
  expect(build([note(0, 1, 0)]).repeats).toEqual([]);
  const bare = build([note(0, 1, 0)], false);
  expect(bare.grid.beatSec).toEqual([]);
  expect(bare.notes[0]?.onsetSec).toBeUndefined();
});

test("sheet/bar-time: a beat has as many ticks as in the grid", () => {
  expect(BEAT_TICKS).toBe(TICKS_PER_BEAT);
});

// By hand: in each row the first note rings to the bar's end (96 ticks) unless the second, a beat later, takes its finger away.
for (const [why, first, second, wantTicks] of [
  ["its finger moves to another fret", [2, 3, 2], [4, 2, 2], 24],
  ["a lower finger reaches beyond it", [2, 3, 3], [4, 5, 1], 24],
  ["another finger joins it in order", [2, 3, 3], [4, 2, 2], 96],
  ["its finger lies down as a barre", [2, 3, 1], [4, 3, 1], 96],
  ["the other string is open", [2, 3, 2], [4, 0, 0], 96],
] as const)
  test(`sheet/build: fingers lift where one hand cannot hold both: ${why}`, () => {
    const [a, b] = [first, second].map(([string, fret, finger], k) =>
      note(24 * k, string, fret, { leftFinger: finger, lengthTicks: 96 - 24 * k }),
    ) as [FrettedNote, FrettedNote];
    expect(build([a, b]).notes.map((n) => n.lengthTicks)).toEqual([wantTicks, 72]);
  });

test("sheet/build: what a hand wrote is not ended by another's finger", () => {
  const first = note(0, 2, 3, { leftFinger: 2, lengthTicks: 96, by: "hand" });
  const second = note(24, 4, 2, { leftFinger: 2, lengthTicks: 72 });
  expect(build([first, second]).notes[0]?.lengthTicks).toBe(96);
});
