import { spawnSync } from "node:child_process";
import { expect, test } from "vitest";
import { eventOffsetsMs, expectedSec } from "../../src/check/timing.js";
import { hasPython, testNeeding } from "../helpers/needs.js";

test("check/timing: on a line the expected time is the line's", () => {
  const neighbours = [-48, -24, 24, 48].map((ticks) => ({ ticks, sec: 2 + ticks / 48 }));
  expect(expectedSec(neighbours)).toBeCloseTo(2, 9);
});

test("check/timing: with eight neighbours an even slowing (a parabola) is followed exactly", () => {
  const ticks = [-96, -72, -48, -24, 24, 48, 72, 96];
  const neighbours = ticks.map((t) => ({ ticks: t, sec: 3 + 0.02 * t + 0.00001 * t * t }));
  expect(expectedSec(neighbours)).toBeCloseTo(3, 9);
});

test("check/timing: three neighbours say nothing", () => {
  expect(expectedSec([1, 2, 3].map((k) => ({ ticks: 24 * k, sec: k })))).toBeUndefined();
});

testNeeding(hasPython("numpy"), "Debian's numpy", "check/timing: the fit is numpy.polyfit's", () => {
  const points = [
    [-96, 0.98],
    [-72, 1.51],
    [-48, 1.99],
    [-24, 2.52],
    [24, 3.48],
    [48, 4.01],
    [72, 4.49],
    [96, 5.02],
  ] as const;
  const script =
    "import sys,json,numpy as n\np=json.load(sys.stdin)\nprint(n.polyfit([a for a,b in p],[b for a,b in p],2)[-1])";
  const out = spawnSync("/usr/bin/python3", ["-c", script], {
    input: JSON.stringify(points),
    encoding: "utf8",
  });
  expect(expectedSec(points.map(([ticks, sec]) => ({ ticks, sec })))).toBeCloseTo(Number(out.stdout), 7);
});

const line = (count: number, late: ReadonlyMap<number, number>) => {
  const events = Array.from({ length: count }, (_, k) => ({
    barIdx: Math.floor(k / 8),
    bar: 1 + Math.floor(k / 8),
    pass: 1,
    tick: (k % 8) * 12,
    startTick: k * 12,
    noteIdxs: [k],
    midis: [60],
    noteSec: [],
    secPerTick: 0.02,
  }));
  const spans = events.map((e, k) => {
    const sec = 1 + e.startTick * 0.02 + (late.get(k) ?? 0);
    return { firstSec: sec, lastSec: sec };
  });
  return eventOffsetsMs(
    events,
    events.map((e) => e.startTick),
    spans,
  );
};

test("check/timing: one note 120 ms late stands out by 120 ms and leaves its neighbours in time", () => {
  const offsets = line(24, new Map([[10, 0.12]]));
  expect(offsets[10]).toBeCloseTo(120, 0);
  offsets.forEach((off, k) => {
    if (k !== 10) expect(Math.abs(off as number)).toBeLessThan(12);
  });
});

test("check/timing: a pause before the second half is nobody's fault", () => {
  const pause = new Map(Array.from({ length: 12 }, (_, k) => [12 + k, 3] as const));
  for (const off of line(24, pause)) expect(Math.abs(off as number)).toBeLessThan(1);
});
