import { expect, test } from "vitest";
import { barPasses, structureOf } from "../../src/check/structure.js";
import { unfoldSheet } from "../../src/check/written.js";
import { risingBars, tinySheet } from "../helpers/check/tiny.js";

const score = unfoldSheet(tinySheet(risingBars(8)));
/** A path through whole bars, a beat being half a second. */
const pathOf = (bars: readonly number[], cut = 4) => ({
  score: 0,
  visits: bars.flatMap((bar, i) =>
    [0, 1, 2, 3]
      .filter((k) => i > 0 || k < cut)
      .map((k) => ({ eventIdx: (bar - 1) * 4 + k, sec: i * 2 + k * 0.5 })),
  ),
});
const kinds = (bars: readonly number[]) =>
  structureOf(score, pathOf(bars), [])
    .places.map((p) => p.kind[0])
    .join("");

for (const [played, wanted, what] of [
  [[1, 2, 3, 4, 5, 6, 7, 8], "pppppppp", "as written"],
  [[1, 2, 4, 3, 5, 6, 7, 8], "ppiipppp", "two bars in each other's place are played instead"],
  [[1, 2, 6, 7, 8], "pplllppp", "three bars left out"],
  [[1, 2, 3, 4, 5], "ppppplll", "the end left out"],
  [[1, 2, 3, 8, 5, 6, 7, 8], "pppipppp", "one bar replaced by another"],
  [[5, 6, 7, 8, 1, 2, 3, 4], "llllpppp", "halves exchanged: one half found, the other left out"],
] as const)
  test(`check/structure: ${what} (edit distance, by hand)`, () => expect(kinds(played)).toBe(wanted));

test("check/structure: a section played twice leaves its bars as surplus, in order", () => {
  const { places, surplus } = structureOf(score, pathOf([1, 2, 3, 4, 2, 3, 4, 5, 6, 7, 8]), []);
  expect(places.every((p) => p.kind === "played")).toBe(true);
  expect(surplus.map((s) => s.passes.map((p) => p.barIdx + 1))).toEqual([[2, 3, 4]]);
});

test("check/structure: a start broken off is the surplus one, not the whole one after it", () => {
  const { surplus, places } = structureOf(score, pathOf([1, 1, 2, 3, 4, 5, 6, 7, 8], 2), []);
  expect(surplus).toHaveLength(1);
  expect(surplus[0]?.passes[0]?.complete).toBe(false);
  expect(places[0]?.kind === "played" && places[0].pass.fromSec).toBe(2);
});

test("check/structure: a bar of strange music between two bars takes a place of its own", () => {
  const path = pathOf([1, 2, 3, 4, 5, 6, 7, 8]);
  for (const visit of path.visits) if (visit.eventIdx >= 16) visit.sec += 2;
  const { surplus, places } = structureOf(score, path, [8, 8.5, 9, 9.5]);
  expect(places.every((p) => p.kind === "played")).toBe(true);
  expect(surplus.map((s) => [s.afterBarIdx, s.passes.length])).toEqual([[3, 1]]);
});

test("check/structure: passes end where the next begins", () => {
  const passes = barPasses(score, pathOf([1, 2]));
  expect(passes.map((p) => [p.fromSec, p.toSec, p.complete])).toEqual([
    [0, 2, true],
    [2, 4, true],
  ]);
});
