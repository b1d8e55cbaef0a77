import { expect, test } from "vitest";
import { alignSheet } from "../../src/check/align.js";
import { siblingBars, siblingLogit } from "../../src/check/siblings.js";
import { timelineOf } from "../../src/check/timeline.js";
import { unfoldSheet } from "../../src/check/written.js";
import { playTiny, type TinyNote, tinyListening, tinySheet } from "../helpers/check/tiny.js";

const bar = (b: number, frets: readonly number[]): TinyNote[] => frets.map((f, k) => [b, k * 24, 1, f]);
const sheet = tinySheet([
  ...bar(1, [0, 1, 2, 3]),
  ...bar(2, [0, 1, 2, 5]), // three of four alike
  ...bar(3, [7, 8, 9, 10]),
  ...bar(4, [0, 1, 2, 3]),
]);

test("check/siblings: bars with most notes alike are siblings, nearest first; others are not", () => {
  expect(siblingBars(unfoldSheet(sheet), sheet)).toEqual([[1, 3], [0, 3], [], [1, 0]]);
});

test("check/siblings: the sheet's own groups count even where the notes differ", () => {
  const grouped = { ...sheet, groupOfBar: [1, 2, 1, 3] };
  expect(siblingBars(unfoldSheet(grouped), grouped)[2]).toEqual([0]);
});

test("check/siblings: what the others play at a tick is the mean of their peaks, cut at ±4 logits", () => {
  const listening = tinyListening(playTiny(sheet, 1, 0.4), 9);
  const { score, events } = alignSheet(sheet, listening);
  const line = timelineOf(events);
  const ask = (tick: number, midi: number) =>
    siblingLogit(score, [1, 3], line, listening.evidence, tick, midi);
  expect(ask(0, 64)).toBe(4); // both play the open string
  expect(ask(72, 67)).toBe(0); // one plays fret 3 (+4), the other does not (−4)
  expect(siblingLogit(score, [], line, listening.evidence, 0, 64)).toBeUndefined();
});
