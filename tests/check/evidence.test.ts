import { expect, test } from "vitest";
import {
  FLOOR_LOGIT,
  onsetLogitAt,
  peakBetween,
  peakMap,
  pitchIdxOf,
  STEPS_PER_LOGIT,
  soundingBetween,
} from "../../src/check/evidence.js";
import { LOGIT_STEPS } from "../../src/notes/played-note.js";
import { tinyListening } from "../helpers/check/tiny.js";

const map = tinyListening([{ sec: 1, midi: 60 }], 2).evidence;

test("check/evidence: the quantisation is the listener's", () => expect(STEPS_PER_LOGIT).toBe(LOGIT_STEPS));

test("check/evidence: a pitch the listener does not cover has no column", () => {
  expect(pitchIdxOf(map, 35)).toBeUndefined();
  expect(pitchIdxOf(map, 36)).toBe(0);
  expect(pitchIdxOf(map, 91)).toBeUndefined();
  expect(peakBetween(map, 30, 0, 2)).toBeUndefined();
});

test("check/evidence: a symmetric peak lies on its frame, a lopsided one where the parabola through (−1, a), (0, b), (1, c) turns", () => {
  expect(peakBetween(map, 60, 0.9, 1.1)).toEqual({ logit: 5, sec: 1 });
  const lopsided = { ...map, onset: Int8Array.from(map.onset) };
  const at = (frame: number): number => frame * map.pitchCount + 24;
  lopsided.onset[at(101)] = 64; // logits 2, 5, 4: shift = (2 − 4) / (2 · (2 − 10 + 4)) = 0.25 frames, by hand
  const peak = peakBetween(lopsided, 60, 0.9, 1.1);
  expect(peak?.sec).toBeCloseTo(1.0025, 6);
});

test("check/evidence: nothing before or after the take", () => {
  expect(onsetLogitAt(map, 24, -1)).toBe(FLOOR_LOGIT);
  expect(onsetLogitAt(map, 24, map.frameCount)).toBe(FLOOR_LOGIT);
  expect(peakBetween(map, 60, 3, 4)).toBeUndefined();
});

test("check/evidence: one pluck falls in one cell of the coarser clock", () => {
  const { rows, logits } = peakMap(map, 4);
  expect(rows).toBe(Math.ceil(201 / 4));
  const filled = [...logits].flatMap((logit, cell) =>
    logit > FLOOR_LOGIT ? [[Math.floor(cell / map.pitchCount), logit]] : [],
  );
  expect(filled).toEqual([[25, 5]]); // frame 100 of 4 a row
});

test("check/evidence: sounding is the mean logit of the stretch", () => {
  expect(soundingBetween(map, 60, 1.1, 1.3)).toBe(3);
  expect(soundingBetween(map, 60, 0.2, 0.8)).toBe(-5);
});
