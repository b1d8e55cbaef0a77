import { expect, test } from "vitest";
import type { PlacedNote } from "../../src/grid/grid.js";
import { HAND_WEIGHTS } from "../../src/hands/cost-table.js";
import { searchNotes } from "../../src/hands/search-events.js";
import { poolPlaces, poolShares } from "../../src/hands/search-pool.js";

const GUITAR = { openMidi: [40, 45, 50, 55, 59, 64], capo: 0, highestFret: 19, scaleLengthMm: 650 };
const note = (bar: number, shares?: number[]): PlacedNote => ({
  onsetSec: bar,
  offsetSec: bar + 0.5,
  midi: 64,
  confidence: 1,
  velocity: 0.5,
  bar,
  tick: 0,
  lengthTicks: 24,
  ...(shares ? { stringShares: shares } : {}),
});
const one = [0.6, 0.4, 0.0001, 0.0001, 0.0001, 0.0001];
const two = [0.3, 0.7, 0.0001, 0.0001, 0.0001, 0.0001];

test("search-pool: bars that are the same music add up what they hear; others keep to themselves", () => {
  const notes = searchNotes([note(1, one), note(2, two), note(3, two), note(4)], GUITAR, []);
  const alone = poolShares(notes, HAND_WEIGHTS, undefined);
  expect(alone[0]).toBeLessThan(alone[1] as number); // bar 1 hears string 1
  const pooled = poolShares(notes, HAND_WEIGHTS, [0, 0, 0, 0]);
  expect(pooled[1]).toBeLessThan(pooled[0] as number); // two of three hear string 2
  expect(Array.from(pooled.subarray(18, 24))).toEqual(Array.from(pooled.subarray(0, 6))); // bar 4 heard nothing, and learns it
  expect(poolShares(notes, HAND_WEIGHTS, [0, 1, 2, 3])).toEqual(alone);
});

test("search-pool: siblings pull a doubtful place towards theirs", () => {
  const notes = searchNotes([note(1), note(2), note(3)], GUITAR, []);
  const marginals = new Float64Array(18);
  marginals.set([0.5, 0.5], 0);
  marginals.set([0.1, 0.9], 6);
  marginals.set([0.1, 0.9], 12);
  const extra = new Float64Array(18);
  const w = { ...HAND_WEIGHTS, pattern: 0 };
  expect(poolPlaces(notes, marginals, extra, w, [0, 0, 0])).toBe(true);
  expect(extra[1]).toBeLessThan(extra[0] as number);
  expect(poolPlaces(notes, marginals, new Float64Array(18), w, [0, 1, 2])).toBe(false);
});
