import { expect, test } from "vitest";
import { HAND_WEIGHTS, nudgeWeights, PICK_WEIGHTS } from "../../src/hands/cost-table.js";
import type { Instrument } from "../../src/hands/fretted.js";
import { fretNotes } from "../../src/hands/search.js";

const up = { from: { string: 1, fret: 0, leftFinger: 0 }, to: { string: 2, fret: 5 } } as const;
const down = { from: { string: 2, fret: 5, leftFinger: 4 }, to: { string: 1, fret: 0 } } as const;

test("cost-table: every weight is a finite number and the tables are frozen", () => {
  for (const table of [HAND_WEIGHTS, PICK_WEIGHTS]) {
    expect(Object.isFrozen(table)).toBe(true);
    for (const [name, value] of Object.entries(table)) expect(Number.isFinite(value), name).toBe(true);
  }
});

test("cost-table: no corrections leave the weights as they are; nudging changes no argument", () => {
  const before = { ...HAND_WEIGHTS };
  expect(nudgeWeights(HAND_WEIGHTS, [])).toEqual(before);
  nudgeWeights(HAND_WEIGHTS, [up]);
  expect(HAND_WEIGHTS).toEqual(before);
});

test("cost-table: corrections away from open strings and up the neck make both cheaper to leave, and back", () => {
  const higher = nudgeWeights(HAND_WEIGHTS, [up, up, up]);
  expect(higher.open).toBeGreaterThan(HAND_WEIGHTS.open);
  expect(higher.fret).toBeLessThan(HAND_WEIGHTS.fret);
  const lower = nudgeWeights(HAND_WEIGHTS, [down]);
  expect(lower.open).toBeLessThan(HAND_WEIGHTS.open);
  expect(lower.fret).toBeGreaterThan(HAND_WEIGHTS.fret);
});

test("cost-table: a thousand corrections stay within bounds and still give a playable C chord", () => {
  const GUITAR: Instrument = {
    openMidi: [40, 45, 50, 55, 59, 64],
    capo: 0,
    highestFret: 19,
    scaleLengthMm: 650,
  };
  const chord = [48, 52, 55, 60, 64].map((midi) => ({
    onsetSec: 0,
    offsetSec: 1,
    midi,
    confidence: 1,
    velocity: 0.5,
    bar: 1,
    tick: 0,
    lengthTicks: 48,
  }));
  for (const row of [up, down]) {
    const weights = nudgeWeights(HAND_WEIGHTS, new Array(1000).fill(row));
    const strings = fretNotes(chord, GUITAR, { weights }).map((n) => n.string);
    expect(new Set(strings).size).toBe(5);
    expect(weights.fret).toBeGreaterThan(0);
  }
});
