import fc from "fast-check";
import { expect, test } from "vitest";
import { beatIdxAt, beatLenSec, rawPosition, swung, unswing } from "../../src/grid/clock.js";

// Worked by hand: beats of one second from 10 s, and the same with a pause of 1.5 s before the fourth.
const even = [10, 11, 12, 13, 14];
const paused = [10, 11, 12, 14.5, 15.5];

for (const [sec, beat, source] of [
  [10, 0, "the first beat"],
  [11.25, 1.25, "a quarter into the second"],
  [9.5, -0.5, "before the first its pace holds"],
  [15, 5, "past the last its pace holds"],
] as const)
  test(`clock: ${sec} s is beat ${beat}: ${source}`, () =>
    expect(rawPosition(even, sec)).toBeCloseTo(beat, 9));

test("clock: the beat at or before a moment, never the last line", () =>
  expect([9, 10, 10.99, 11, 13.5, 99].map((s) => beatIdxAt(even, s))).toEqual([0, 0, 0, 1, 3, 3]));

test("clock: a beat that holds a pause keeps the pace of the beat before", () => {
  expect(beatLenSec(paused, 2)).toBe(1);
  expect(rawPosition(paused, 12.5)).toBeCloseTo(2.5, 9);
  expect(rawPosition(paused, 14.4)).toBeCloseTo(2.9, 9); // shortly before the next beat: its own upbeat
});

test("clock: triplet swing puts the half at two thirds, and takes it out again", () => {
  expect(swung(3.5, 2)).toBeCloseTo(3 + 2 / 3, 9);
  expect(unswing(3 + 2 / 3, 2)).toBeCloseTo(3.5, 9);
  fc.assert(
    fc.property(
      fc.double({ min: -4, max: 40, noNaN: true }),
      fc.double({ min: 1, max: 3, noNaN: true }),
      (u, r) => {
        expect(unswing(swung(u, r), r)).toBeCloseTo(u, 6);
      },
    ),
  );
});
