import { expect, test } from "vitest";
import { guessRhythm } from "../../src/check/guess-rhythm.js";
import { unfoldSheet } from "../../src/check/written.js";
import { type TinyNote, tinySheet } from "../helpers/check/tiny.js";

// Four bars of three columns, played dotted quarter, dotted quarter, quarter: 0, 3/8 and 6/8 of the bar.
const notes: TinyNote[] = [1, 2, 3, 4].flatMap((bar) =>
  [0, 6, 12].map((tick, k): TinyNote => [bar, tick, 3 - k, bar]),
);
const bare = { ...tinySheet(notes), rhythm: "none" as const };
const visits = [0, 1, 2, 3].flatMap((bar) =>
  [0, 0.375, 0.75].map((share, k) => ({ eventIdx: bar * 3 + k, sec: 1 + 2 * (bar + share) })),
);

test("check/guess-rhythm: columns get their place in the bar from the playing (3/8 of 96 ticks = 36, by hand)", () => {
  const score = guessRhythm(unfoldSheet(bare), { visits, score: 0 });
  expect(score.hasRhythm).toBe(false);
  expect(score.events.map((e) => Math.round(e.startTick))).toEqual([
    0, 36, 72, 96, 132, 168, 192, 228, 264, 288, 324, 360,
  ]);
  expect(score.events[1]?.tick).toBe(6); // as written
});

test("check/guess-rhythm: a score with rhythm is left alone", () => {
  const score = unfoldSheet(tinySheet(notes));
  expect(guessRhythm(score, { visits, score: 0 })).toBe(score);
});

test("check/guess-rhythm: without a bar played through there is nothing to learn", () => {
  const score = unfoldSheet(bare);
  expect(guessRhythm(score, { visits: [], score: 0 })).toBe(score);
});

test("check/guess-rhythm: a first bar of one beat is a pick-up: its note lies a quarter of a bar before bar 1 (24 of 96 ticks)", () => {
  const up: TinyNote[] = [
    [1, 0, 1, 3],
    ...notes.map(([bar, tick, string, fret]): TinyNote => [bar + 1, tick, string, fret]),
  ];
  const path = {
    visits: [{ eventIdx: 0, sec: 0.5 }, ...visits.map((v) => ({ ...v, eventIdx: v.eventIdx + 1 }))],
    score: 0,
  };
  const score = guessRhythm(unfoldSheet({ ...tinySheet(up), rhythm: "none" }), path);
  expect(score.events.slice(0, 3).map((e) => Math.round(e.startTick))).toEqual([72, 96, 132]);
});
