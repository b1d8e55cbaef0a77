import { expect, test } from "vitest";
import { alignSheet } from "../../src/check/align.js";
import { checkSheet } from "../../src/check/compare.js";
import { roughTimes, settleInPlace } from "../../src/check/in-place.js";
import { structureOf } from "../../src/check/structure.js";
import { unfoldSheet } from "../../src/check/written.js";
import { playTiny, risingBars, tinyListening, tinySheet } from "../helpers/check/tiny.js";

const sheet = tinySheet(risingBars(8));
const score = unfoldSheet(sheet);
const played = (order?: readonly number[]) => playTiny(sheet, 1, 0.5, order);
/** Whole bars found at the given seconds, a beat being half a second. */
const pathOf = (bars: readonly (readonly [bar: number, sec: number])[]) => ({
  score: 0,
  visits: bars.flatMap(([bar, sec]) =>
    [0, 1, 2, 3].map((k) => ({ eventIdx: (bar - 1) * 4 + k, sec: sec + k * 0.5 })),
  ),
});
const settled = (bars: readonly (readonly [number, number])[], sounds: { sec: number; midi: number }[]) => {
  const { evidence, notes } = tinyListening(sounds, 20);
  const structure = structureOf(
    score,
    pathOf(bars),
    notes.map((n) => n.onsetSec),
  );
  return settleInPlace(score, structure, evidence, notes, 0);
};
const startsOf = (structure: ReturnType<typeof settled>) => {
  const rough = roughTimes(score, structure.places);
  return score.bars.map((bar) => {
    const sec = rough[bar.firstEvent];
    return sec === undefined ? "-" : sec.toFixed(1);
  });
};
const inPlace = ["1.0", "3.0", "5.0", "7.0", "9.0", "11.0", "13.0", "15.0"]; // bar k + 1 begins at 1 + 2k s, by hand

test("check/in-place: bars found a place early with a strange bar after them go back, the clock having come back", () => {
  const other = played().map((n) => (n.bar === 3 || n.bar === 5 ? { ...n, midi: n.midi + 1 } : n));
  const found = [
    [1, 1],
    [2, 3],
    [4, 7],
    [6, 11],
    [7, 13],
    [8, 15],
  ] as const;
  expect(startsOf(settled(found, other))).toEqual(inPlace);
});

test("check/in-place: a last bar that sounds otherwise is in its place, not left out", () => {
  const last = [...played().filter((n) => n.bar < 8), ...[52, 56, 59].map((midi) => ({ sec: 15, midi }))];
  const found = [1, 2, 3, 4, 5, 6, 7].map((bar, k) => [bar, 1 + 2 * k] as const);
  expect(startsOf(settled(found, last))).toEqual(inPlace);
});

test("check/in-place: a last bar in whose time nothing sounds stays left out", () => {
  const short = played().filter((n) => n.bar < 8);
  const found = [1, 2, 3, 4, 5, 6, 7].map((bar, k) => [bar, 1 + 2 * k] as const);
  expect(startsOf(settled(found, short)).at(-1)).toBe("-");
});

test("check/in-place: one onset after the end, of a pitch that is written there, makes no bar", () => {
  const ghost = [
    ...played().filter((n) => n.bar < 8),
    { sec: 15, midi: played().find((n) => n.bar === 8)?.midi ?? 0 },
  ];
  const found = [1, 2, 3, 4, 5, 6, 7].map((bar, k) => [bar, 1 + 2 * k] as const);
  expect(startsOf(settled(found, ghost)).at(-1)).toBe("-");
});

test("check/in-place: bars left out for good stay left out, the clock being ahead ever after", () => {
  const order = [1, 2, 6, 7, 8];
  const found = order.map((bar, k) => [bar, 1 + 2 * k] as const);
  expect(startsOf(settled(found, played(order)))).toEqual(["1.0", "3.0", "-", "-", "-", "5.0", "7.0", "9.0"]);
});

test("check/in-place: a section played again and a later one left out stay so, though the clock comes back", () => {
  const long = tinySheet(risingBars(16));
  const longScore = unfoldSheet(long);
  const order = [1, 2, 3, 4, 5, 2, 3, 4, 5, 6, 7, 8, 9, 14, 15, 16]; // four bars more, then four bars less
  const { evidence, notes } = tinyListening(playTiny(long, 1, 0.5, order), 36);
  const path = pathOf(order.map((bar, k) => [bar, 1 + 2 * k] as const));
  const { places, surplus } = settleInPlace(longScore, structureOf(longScore, path, []), evidence, notes, 0);
  expect(places.map((p) => p.kind[0]).join("")).toBe("pppppppppllllppp");
  expect(surplus.flatMap((s) => s.passes.map((p) => p.barIdx + 1))).toHaveLength(4);
});

test("check/in-place: another last bar is told note by note", () => {
  const last = [...played().filter((n) => n.bar < 8), ...[52, 56, 59].map((midi) => ({ sec: 15, midi }))];
  const listening = tinyListening(last, 20);
  expect(alignSheet(sheet, listening).findings).toEqual([]);
  const { differences } = checkSheet(sheet, listening);
  expect(differences.every((d) => d.bar === 8)).toBe(true);
  const heard = differences.flatMap((d) => (d.playedMidi === undefined ? [] : [d.playedMidi]));
  expect(heard.sort()).toEqual([52, 56, 59]);
});
