import { expect, test } from "vitest";
import { coarsePath } from "../../src/check/coarse.js";
import { pulseOverTime, tempoPath } from "../../src/check/tempo-path.js";
import { unfoldSheet } from "../../src/check/written.js";
import { playTiny, risingBars, tinyListening, tinySheet } from "../helpers/check/tiny.js";

const sheet = tinySheet(risingBars(6));
const score = unfoldSheet(sheet);
const bothPaths = (notes: { sec: number; midi: number }[], durationSec: number) => {
  const map = tinyListening(notes, durationSec).evidence;
  const first = coarsePath(score, map, 0);
  return { first, path: tempoPath(score, map, 0, first) };
};

test("check/tempo-path: the pulse of a steady reading is its seconds a tick throughout", () => {
  const { first } = bothPaths(playTiny(sheet, 1, 0.48), 14);
  const pulse = pulseOverTime(score, first, 100, 0.1);
  for (const p of pulse ?? []) expect(p).toBeCloseTo(0.02, 3);
});

test("check/tempo-path: a path of three notes has no pulse and is left as it is", () => {
  const short = { visits: [0, 1, 2].map((k) => ({ eventIdx: k, sec: k })), score: 1 };
  expect(pulseOverTime(score, short, 10, 0.1)).toBeUndefined();
  expect(tempoPath(score, tinyListening([], 2).evidence, 0, short)).toBe(short);
});

test("check/tempo-path: a bar that is silent keeps its time, and the rest its place", () => {
  const played = playTiny(sheet, 1, 0.4).filter((n) => n.bar !== 3);
  const { path } = bothPaths(played, 12);
  expect(path.visits).toHaveLength(24);
  path.visits.forEach((v, k) => {
    expect(Math.abs(v.sec - (1 + k * 0.4))).toBeLessThan(0.1);
  });
});

test("check/tempo-path: a wait of three seconds between bars is followed", () => {
  const played = playTiny(sheet, 1, 0.4).map((n) => (n.bar >= 4 ? { ...n, sec: n.sec + 3 } : n));
  const { path } = bothPaths(played, 15);
  expect(path.visits.map((v) => v.eventIdx)).toEqual(played.map((_, k) => k));
  expect(Math.abs((path.visits[12]?.sec ?? 0) - (played[12]?.sec ?? 0))).toBeLessThan(0.03);
});
