import { expect, test } from "vitest";
import { smoothBeats } from "../../src/grid/smooth.js";
import { makeRng } from "../helpers/takes/rng.js";

// A tempo curve known by formula, hit with known jitter: the curve must come nearer to the truth than the hits are.
const truth = Array.from({ length: 41 }, (_, k) => 0.6 * k + 0.05 * Math.sin(k / 6));
const rng = makeRng("smooth");
const jittered = truth.map((sec) => sec + 0.012 * rng.gauss());
const error = (beats: readonly number[], real: readonly number[]): number =>
  Math.sqrt(beats.reduce((sum, b, k) => sum + (b - (real[k] ?? 0)) ** 2, 0) / beats.length);

test("smooth: jitter of 12 ms shrinks by a third at least", () => {
  const pinned = jittered.map((sec, beat) => ({ sec, beat, weight: 1 }));
  const out = smoothBeats(jittered, pinned);
  expect(error(out, truth)).toBeLessThan((2 / 3) * error(jittered, truth));
});

test("smooth: exact hits on beats and between them are gone through", () => {
  const steady = Array.from({ length: 13 }, (_, k) => 1 + 0.5 * k);
  const pinned = Array.from({ length: 24 }, (_, k) => ({ sec: 1 + 0.25 * k, beat: k / 2, weight: 1 }));
  expect(
    error(
      smoothBeats(
        steady.map((b) => b + 0.01),
        pinned,
      ),
      steady,
    ),
  ).toBeLessThan(0.001);
});

test("smooth: a step of tempo bends the curve where it happens, within 15 ms two beats off", () => {
  const step = Array.from({ length: 25 }, (_, k) => (k < 12 ? 0.6 * k : 7.2 + 0.45 * (k - 12)));
  const pinned = step.map((sec, beat) => ({ sec, beat, weight: 1 }));
  const out = smoothBeats(step, pinned);
  out.forEach((b, k) => {
    if (Math.abs(k - 12) >= 2) expect(Math.abs(b - (step[k] as number))).toBeLessThan(0.015);
  });
});

test("smooth: one stray hit moves its beat by less than a third of its error", () => {
  const steady = Array.from({ length: 21 }, (_, k) => 0.6 * k);
  const pinned = steady.map((sec, beat) => ({ sec: beat === 10 ? sec + 0.09 : sec, beat, weight: 1 }));
  expect(Math.abs((smoothBeats(steady, pinned)[10] ?? 0) - 6)).toBeLessThan(0.03);
});

test("smooth: beats rise, and two are left alone", () => {
  expect(smoothBeats([1, 2], [])).toEqual([1, 2]);
  const out = smoothBeats(
    [0, 0.5, 0.4, 1],
    [
      { sec: 0.45, beat: 1, weight: 1 },
      { sec: 0.4, beat: 2, weight: 1 },
    ],
  );
  expect(out.every((b, k) => k === 0 || b > (out[k - 1] as number))).toBe(true);
});
