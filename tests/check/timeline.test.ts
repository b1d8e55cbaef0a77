import { expect, test } from "vitest";
import { lastNotAbove, secAtTick, tickAtSec, timelineOf } from "../../src/check/timeline.js";

const event = (startTick: number, sec: number | undefined) => ({
  barIdx: 0,
  bar: 1,
  pass: 1,
  tick: startTick,
  startTick,
  noteIdxs: [],
  midis: [],
  noteSec: [],
  secPerTick: 0.02,
  ...(sec === undefined ? {} : { sec }),
});
const line = timelineOf([event(0, 1), event(24, 1.5), event(48, undefined), event(72, 2.7)]);

for (const [tick, sec, why] of [
  [12, 1.25, "half way"],
  [48, 2.1, "an event that was not played lies in proportion"],
  [-24, 0.52, "before the first by the tempo there: 1 − 24 · 0.02"],
  [96, 3.18, "after the last: 2.7 + 24 · 0.02"],
] as const)
  test(`check/timeline: tick ${tick} is at ${sec} s and back (${why})`, () => {
    expect(secAtTick(line, tick)).toBeCloseTo(sec, 9);
    expect(tickAtSec(line, sec)).toBeCloseTo(tick, 6);
  });

test("check/timeline: nothing aligned, nothing said", () => {
  const none = timelineOf([event(0, undefined)]);
  expect(secAtTick(none, 0)).toBeUndefined();
  expect(tickAtSec(none, 1)).toBeUndefined();
});

test("check/timeline: lastNotAbove finds the last entry that is not above", () => {
  const xs = Float64Array.of(1, 2, 2, 5);
  expect([0, 1, 2, 4, 9].map((x) => lastNotAbove(xs, x))).toEqual([-1, 0, 2, 2, 3]);
});
