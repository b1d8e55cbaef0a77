import { expect, test } from "vitest";
import { decideFeel } from "../../src/grid/swing.js";
import { makeRng } from "../helpers/takes/rng.js";

// Shares of a beat, worked by hand; long : short of triplet swing is 2, of a dotted figure 3.
const rng = makeRng("swing");
const beats = (offs: readonly number[]): number[] =>
  Array.from({ length: 32 }, () => [0, ...offs]).flatMap((list) => list.map((s) => s + 0.012 * rng.gauss()));

for (const [title, offs, feel, ratio] of [
  ["eighths are straight", [0.5], "straight", 1],
  ["a loose half is straight", [0.53], "straight", 1],
  ["light swing", [0.6], "swing", 1.5],
  ["triplet swing", [2 / 3], "swing", 2],
  ["triplets are no swing", [1 / 3, 2 / 3], "straight", 1],
  ["sixteenths are no swing", [0.25, 0.5, 0.75], "straight", 1],
  ["a dotted figure is no swing", [0.75], "straight", 1],
  ["a rush to the next beat is no swing", [0.85], "straight", 1],
] as const)
  test(`swing: ${title}`, () => {
    const found = decideFeel(beats(offs), 4);
    expect(found.feel).toBe(feel);
    expect(found.swingRatio).toBeCloseTo(ratio, 0);
    if (ratio === 1) expect(found.swingRatio).toBe(1);
  });

test("swing: eighth beats and three off-beats say nothing", () => {
  expect(decideFeel(beats([2 / 3]), 8).feel).toBe("straight");
  expect(decideFeel([0, 0.66, 0, 0.66, 0, 0.66, 0], 4).feel).toBe("straight");
});
