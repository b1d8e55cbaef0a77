import { expect, test } from "vitest";
import { chooseSteps, divisionsFor } from "../../src/grid/steps.js";

// 24 ticks a beat, worked by hand.
const steps = (positions: readonly number[], divisions = [1, 2, 3, 4, 6, 8], lenSec = 0.7): number[] =>
  chooseSteps({ positions, beatLenSec: positions.map(() => lenSec), beatsPerBar: 4, divisions });

for (const [title, positions, want] of [
  ["quarters", [0, 1.02, 1.98, 3], [0, 24, 48, 72]],
  ["eighths, jittered", [0, 0.49, 1.01, 1.52, 2], [0, 12, 24, 36, 48]],
  ["a triplet beside eighths", [0, 0.5, 1, 1.34, 1.66, 2, 2.5], [0, 12, 24, 32, 40, 48, 60]],
  ["sixteenths beside a triplet", [0, 0.25, 0.5, 0.75, 1, 1.33, 1.67], [0, 6, 12, 18, 24, 32, 40]],
  ["a note a little early opens its beat", [0, 0.98, 1.5, 1.97], [0, 24, 36, 48]],
  ["before the first beat", [-0.5, 0, 0.5], [-12, 0, 12]],
] as const)
  test(`steps: ${title}`, () => expect(steps(positions)).toEqual(want));

test("steps: ticks never fall, whatever the positions", () => {
  const positions = Array.from({ length: 60 }, (_, k) => k * 0.31 + 0.04 * Math.sin(k * 7.3));
  const ticks = steps(positions);
  expect(ticks.every((t, k) => k === 0 || t >= (ticks[k - 1] as number))).toBe(true);
});

test("steps: only the divisions allowed are used", () =>
  expect(steps([0, 0.34, 0.66, 1], [1, 2]).every((t) => t % 12 === 0)).toBe(true));

test("steps: a hit that other bars place firmly is placed there when it is astray", () => {
  // Nine bars of eighths on beat 1, one of them 40 ms late at 0.7 s a beat: 0.557 is nearer an eighth's place than a sixth's.
  const positions = Array.from({ length: 9 }, (_, bar) => [
    4 * bar,
    4 * bar + (bar === 5 ? 0.557 : 0.5),
  ]).flat();
  expect(
    steps(positions)
      .filter((_, k) => k % 2 === 1)
      .map((t) => t % 96),
  ).toEqual(new Array(9).fill(12));
});

for (const [unit, grid, want] of [
  [4, undefined, [1, 2, 3, 4, 6, 8]],
  [8, undefined, [1, 2, 3, 4]],
  [4, 8, [1, 2]],
  [4, 12, [1, 3]],
  [4, 16, [1, 2, 4]],
  [8, 8, [1]],
  [8, 16, [1, 2]],
] as const)
  test(`steps: a grid of ${grid ?? "anything"} over beats of 1/${unit}`, () =>
    expect(divisionsFor(unit, grid)).toEqual(want));
