import { expect, test } from "vitest";
import { FINE_DEFAULTS, fineTimes, localPulse } from "../../src/check/fine.js";
import { tinyListening } from "../helpers/check/tiny.js";

test("check/fine: pulse of a steady line is its seconds a tick (0.5 s ÷ 24 ticks)", () => {
  const items = Array.from({ length: 12 }, (_, k) => ({ sec: 1 + k * 0.5, startTick: k * 24 }));
  for (const pulse of localPulse(items)) expect(pulse).toBeCloseTo(0.5 / 24, 9);
});

test("check/fine: a pause does not slow the pulse on either side", () => {
  const items = Array.from({ length: 16 }, (_, k) => ({
    sec: k * 0.5 + (k >= 8 ? 5 : 0),
    startTick: k * 24,
  }));
  for (const pulse of localPulse(items)) expect(pulse).toBeCloseTo(0.5 / 24, 6);
});

test("check/fine: after a change of tempo each side keeps its own pulse", () => {
  const items = Array.from({ length: 24 }, (_, k) => ({
    sec: k < 12 ? k * 0.5 : 6 + (k - 12) * 0.4,
    startTick: k * 24,
  }));
  const pulses = localPulse(items);
  expect(pulses[2]).toBeCloseTo(0.5 / 24, 6);
  expect(pulses[21]).toBeCloseTo(0.4 / 24, 6);
});

test("check/fine: rough times 120 ms off come to the onsets themselves, a missing one to its place in the pulse", () => {
  const truth = Array.from({ length: 10 }, (_, k) => 1 + k * 0.4);
  const midis = [60, 62, 64, 65, 67, 69, 71, 72, 74, 76];
  const heard = truth.map((sec, k) => ({ sec, midi: midis[k] as number })).filter((_, k) => k !== 5);
  const map = tinyListening(heard, 6).evidence;
  const items = truth.map((sec, k) => ({
    sec: sec + (k % 2 ? 0.12 : -0.12),
    startTick: k * 24,
    midis: [midis[k] as number],
  }));
  const times = fineTimes(map, items);
  truth.forEach((sec, k) => {
    expect(Math.abs((times[k] as number) - sec)).toBeLessThan(k === 5 ? 0.05 : 0.0101);
  });
});

test("check/fine: the path found is the best of all (exhaustive search over a tiny band)", () => {
  const map = tinyListening(
    [
      { sec: 0.5, midi: 60, logit: 3 },
      { sec: 0.56, midi: 60, logit: 2 },
      { sec: 0.74, midi: 62, logit: 1 },
      { sec: 0.8, midi: 62, logit: 2.5 },
      { sec: 1.05, midi: 64, logit: 0.5 },
    ],
    2,
  ).evidence;
  const items = [
    { sec: 0.52, startTick: 0, midis: [60] },
    { sec: 0.77, startTick: 12, midis: [62] },
    { sec: 1.03, startTick: 24, midis: [64] },
  ];
  const bandSec = 0.06;
  const times = fineTimes(map, items, { bandSec });
  const pulse = localPulse(items)[1] as number;
  const gain = (sec: number, midi: number): number => {
    let best = -6;
    const frame = Math.round(sec / 0.01);
    for (let d = -3; d <= 3; d++) {
      const step = map.onset[(frame + d) * map.pitchCount + midi - 36] as number;
      best = Math.max(best, step / 16 - FINE_DEFAULTS.blurPerFrame * Math.abs(d));
    }
    return Math.min(FINE_DEFAULTS.hitCap, Math.max(-FINE_DEFAULTS.missCost, best));
  };
  const step = (a: number, b: number): number => {
    const wanted = 12 * pulse;
    const stray = (b - a - wanted) / (FINE_DEFAULTS.looseSec + FINE_DEFAULTS.looseShare * wanted);
    return Math.min(FINE_DEFAULTS.strayCap, 0.5 * stray * stray);
  };
  const worth = ([a, b, c]: readonly number[]): number =>
    gain(a as number, 60) +
    gain(b as number, 62) +
    gain(c as number, 64) -
    step(a as number, b as number) -
    step(b as number, c as number);
  const band = (centre: number): number[] => Array.from({ length: 13 }, (_, k) => centre + (k - 6) * 0.01);
  let best = Number.NEGATIVE_INFINITY;
  for (const a of band(0.52))
    for (const b of band(0.77)) for (const c of band(1.03)) best = Math.max(best, worth([a, b, c]));
  expect(worth(times)).toBeCloseTo(best, 6);
});
