import { expect, test } from "vitest";
import { HAND_WEIGHTS } from "../../src/hands/cost-table.js";
import { fingeringsOf } from "../../src/hands/fingerings.js";
import { neckMm } from "../../src/hands/reach.js";

const mm = neckMm({ openMidi: [40, 45, 50, 55, 59, 64], capo: 0, highestFret: 19, scaleLengthMm: 650 });
const of = (...places: [number, number][]) =>
  fingeringsOf(
    places.map(([string, fret]) => ({ string, fret })),
    mm,
    HAND_WEIGHTS,
  );

test("fingerings: open strings need no finger and leave the hand where it is", () => {
  expect(of([6, 0], [1, 0])).toEqual([{ fingers: [0, 0], position: undefined, cost: 0 }]);
});

test("fingerings: no finger lies on two frets, and every fingering keeps the order of frets", () => {
  for (const places of [
    [
      [5, 3],
      [4, 2],
      [2, 1],
    ],
    [
      [6, 5],
      [4, 7],
      [3, 6],
      [2, 5],
    ],
    [
      [3, 2],
      [2, 3],
      [1, 2],
    ],
  ] as [number, number][][])
    for (const { fingers } of of(...places))
      fingers.forEach((f, a) => {
        fingers.forEach((g, b) => {
          const [fa, fb] = [places[a]![1], places[b]![1]];
          if (f === g) expect(fa).toBe(fb);
          if (f < g) expect(fa).toBeLessThanOrEqual(fb);
        });
      });
});

test("fingerings: a barre never lies over an open string (by hand)", () => {
  for (const { fingers } of of([5, 2], [3, 0], [1, 2])) expect(fingers[0]).not.toBe(fingers[2]);
});

test("fingerings: six stopped strings at five frets are too many; none is found", () => {
  expect(of([6, 1], [5, 2], [4, 3], [3, 4], [2, 5])).toEqual([]);
});

test("fingerings: cheapest first", () => {
  const costs = of([5, 3], [4, 2], [2, 1]).map((f) => f.cost);
  expect(costs.length).toBeGreaterThan(0);
  expect([...costs].sort((a, b) => a - b)).toEqual(costs);
});
