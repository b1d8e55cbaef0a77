import { expect, test } from "vitest";
import { barEdges, coarsePath, jumpScale, pitchSets, setGains } from "../../src/check/coarse.js";
import { unfoldSheet } from "../../src/check/written.js";
import { playTiny, risingBars, tinyListening, tinySheet } from "../helpers/check/tiny.js";

const sheet = tinySheet(risingBars(6));
const score = unfoldSheet(sheet);
const pathOf = (order?: readonly number[], startSec = 1, transpose = 0) => {
  const played = playTiny(sheet, startSec, 0.4, order).map((n) => ({ ...n, midi: n.midi + transpose }));
  return {
    played,
    path: coarsePath(score, tinyListening(played, played.length * 0.4 + startSec + 1).evidence, transpose),
  };
};
const barsOf = (visits: readonly { eventIdx: number }[]) => [
  ...new Set(visits.map((v) => score.events[v.eventIdx]?.bar)),
];

test("check/coarse: a plain reading visits every event at its moment, late start or not", () => {
  for (const startSec of [0.5, 4]) {
    const { played, path } = pathOf(undefined, startSec);
    expect(path.visits.map((v) => v.eventIdx)).toEqual(played.map((_, k) => k));
    path.visits.forEach((v, k) => {
      expect(Math.abs(v.sec - (played[k]?.sec as number))).toBeLessThan(0.03);
    });
  }
});

test("check/coarse: left-out bars are jumped", () => {
  expect(barsOf(pathOf([1, 2, 6]).path.visits)).toEqual([1, 2, 6]);
});

test("check/coarse: bars played again are visited again", () => {
  const { path } = pathOf([1, 2, 3, 4, 3, 4, 5, 6]);
  expect(path.visits.map((v) => (score.events[v.eventIdx]?.bar ?? 0) * 1)).toEqual(
    [1, 2, 3, 4, 3, 4, 5, 6].flatMap((b) => [b, b, b, b]),
  );
});

test("check/coarse: the transposition asked for is the one that is heard", () => {
  expect(pathOf(undefined, 1, 3).path.visits).toHaveLength(24);
});

test("check/coarse: an empty sheet has an empty path", () => {
  const none = unfoldSheet(tinySheet([]));
  expect(coarsePath(none, tinyListening([], 1).evidence, 0)).toEqual({ visits: [], score: 0 });
});

test("check/coarse: equal pitch sets share a column list, pitches beyond the listener are not asked", () => {
  const map = tinyListening([], 1).evidence; // MIDI 36…90
  const three = unfoldSheet(
    tinySheet([
      [1, 0, 6, 0],
      [1, 24, 6, 0],
      [1, 48, 1, 30],
    ]),
  );
  const { sets, setOf } = pitchSets(three, map, 0);
  expect(sets).toEqual([[4], []]);
  expect([...setOf]).toEqual([0, 0, 1]);
});

test("check/coarse: a set gains the peaks of its pitches, cut to between miss and hit, a neighbouring step half a logit less", () => {
  const logits = Float32Array.of(2, -6, 1, -6, 9, -6); // 3 rows of 2 pitches
  const into = new Float64Array(1);
  setGains([[0, 1]], logits, 3, 2, 0, into);
  expect(into[0]).toBe(2 - 1.5); // pitch 0 at its own step; pitch 1 absent
  setGains([[0]], logits, 3, 2, 2, into);
  expect(into[0]).toBe(3); // 9 is cut to 3
  setGains([[0]], Float32Array.of(-6, 1.5, -6), 3, 1, 0, into);
  expect(into[0]).toBe(1); // half a logit less from the step beside
});

test("check/coarse: bars begin and end where the bar lines are, and dense bars make jumps dearer", () => {
  const { barOfStart, endsBar, startCount } = barEdges(score);
  expect(startCount).toBe(6);
  expect([...barOfStart.slice(0, 5)]).toEqual([0, -1, -1, -1, 1]);
  expect([...endsBar.slice(0, 5)]).toEqual([0, 0, 0, 1, 0]);
  expect(jumpScale(score)).toBe(0.5); // four notes a bar against eight
  const dense = tinySheet(Array.from({ length: 16 }, (_, k) => [1, k * 6, 1 + (k % 6), k % 5] as const));
  expect(jumpScale(unfoldSheet(dense))).toBe(2); // 16 notes a bar against 8
});

test("check/coarse: a single bar that comes four times is found within one of them, not spread over all", () => {
  const one = tinySheet([0, 1, 2, 3].map((k) => [1, 24 * k, 1 + k, k] as const));
  const played = playTiny(one, 1, 0.4, [1, 1, 1, 1]);
  const { visits } = coarsePath(unfoldSheet(one), tinyListening(played, 9).evidence, 0);
  expect(visits).toHaveLength(4);
  const spanSec = (visits.at(-1)?.sec ?? 0) - (visits[0]?.sec ?? 0);
  expect(spanSec).toBeGreaterThan(1.15); // three beats of 0.4 s, by hand, on a clock of 20 ms
  expect(spanSec).toBeLessThan(1.25);
});
