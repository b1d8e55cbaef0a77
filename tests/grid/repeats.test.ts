import { expect, test } from "vitest";
import type { Grid, PlacedNote } from "../../src/grid/grid.js";
import { groupBars } from "../../src/grid/repeats.js";

// Bars of 4/4 in eighths, worked by hand.
const C = [48, 60, 64, 67, 52, 60, 64, 67];
const G = [43, 59, 62, 67, 50, 59, 62, 67];
const bar = (number: number, pitches: readonly number[]): PlacedNote[] =>
  pitches.flatMap((midi, k) =>
    midi === 0
      ? []
      : [
          {
            bar: number,
            tick: 12 * k,
            lengthTicks: 12,
            midi,
            onsetSec: 4 * number + k / 2,
            offsetSec: 4 * number + k / 2 + 0.5,
            confidence: 0.95,
            velocity: 0.5,
          },
        ],
  );
const groups = (...bars: (readonly number[])[]): string =>
  groupBars(
    bars.flatMap((pitches, k) => bar(k + 1, pitches)),
    { barCount: bars.length } as Grid,
  ).groupOfBar.join("");

test("repeats: the same bars share a group, another chord has its own", () =>
  expect(groups(C, C, G, C, G)).toBe("00101"));
test("repeats: a note unheard and a note too many leave a bar what it is", () =>
  expect(groups(C, [48, 60, 64, 0, 52, 60, 64, 67], [48, 60, 64, 67, 52, 60, 76, 67])).toBe("000"));
test("repeats: the same upper voices over another bass are other music", () =>
  expect(groups(C, [45, 60, 64, 67, 52, 60, 64, 67])).toBe("01"));
test("repeats: empty bars are like each other only", () => expect(groups(C, [], C, [])).toBe("0101"));
test("repeats: similarity is 1 alone, and falls with what differs", () => {
  const { similarity } = groupBars([...bar(1, C), ...bar(2, [48, 60, 64, 0, 52, 60, 64, 67]), ...bar(3, G)], {
    barCount: 3,
  } as Grid);
  expect(similarity[2]).toBe(1);
  expect(similarity[0]).toBeCloseTo(7 / 8, 6); // seven of eight notes in common
});
