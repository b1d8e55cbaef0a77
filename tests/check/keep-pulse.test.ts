import { expect, test } from "vitest";
import { keepPulse } from "../../src/check/keep-pulse.js";
import { unfoldSheet } from "../../src/check/written.js";
import { playTiny, risingBars, tinyListening, tinySheet } from "../helpers/check/tiny.js";

// Five bars of quarters, half a second each: a tick is 0.5 s ÷ 24; bar 3 begins at 5 s (by hand).
const sheet = tinySheet(risingBars(5));
const score = unfoldSheet(sheet);
const right = score.events.map((_, e) => 1 + 0.5 * e);
const bentIn3 = right.map((sec, e) => (score.events[e]?.bar === 3 ? sec - 0.2 : sec));
const settled = (secs: readonly (number | undefined)[], sounds: { sec: number; midi: number }[]) =>
  keepPulse(
    score,
    secs,
    secs.map(() => 0.5 / 24),
    score.events.map((e) => e.startTick),
    tinyListening(sounds, 14).evidence,
    sheet.notes.map((n) => n.midi),
  );
const played = playTiny(sheet, 1, 0.5);
const otherIn3 = played.map((n) => (n.bar === 3 ? { ...n, midi: n.midi + 6 } : n));

test("check/keep-pulse: a bar of other music that was bent 200 ms off goes back between its neighbours", () => {
  settled(bentIn3, otherIn3).forEach((sec, e) => {
    expect(sec).toBeCloseTo(right[e] as number, 6);
  });
});

test("check/keep-pulse: a bar that is played 200 ms early and sounds as written stays where it is played", () => {
  const early = played.map((n) => (n.bar === 3 ? { ...n, sec: n.sec - 0.2 } : n));
  expect(settled(bentIn3, early)).toEqual(bentIn3);
});

test("check/keep-pulse: a last bar of other music runs on with the pulse", () => {
  const other = played.map((n) => (n.bar === 5 ? { ...n, midi: n.midi + 6 } : n));
  const bent = right.map((sec, e) => (score.events[e]?.bar === 5 ? sec + 0.15 : sec));
  expect(settled(bent, other).at(-1)).toBeCloseTo(right.at(-1) as number, 6);
});

test("check/keep-pulse: where a pause lies between the neighbours nothing is moved", () => {
  const pause = (n: { sec: number }): number => (n.sec > 6.9 ? n.sec + 2 : n.sec);
  const bent = bentIn3.map((sec) => (sec > 6.9 ? sec + 2 : sec));
  expect(
    settled(
      bent,
      otherIn3.map((n) => ({ ...n, sec: pause(n) })),
    ),
  ).toEqual(bent);
});

test("check/keep-pulse: what was not played gets no time", () => {
  const gone = bentIn3.map((sec, e) => (score.events[e]?.bar === 3 ? undefined : sec));
  expect(settled(gone, otherIn3)).toEqual(gone);
});
