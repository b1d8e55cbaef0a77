import { expect, test } from "vitest";
import { guessRhythm } from "../../src/check/guess-rhythm.js";
import { unfoldSheet } from "../../src/check/written.js";
import { type TinyNote, tinyListening, tinySheet } from "../helpers/check/tiny.js";

// Four bars of three columns, played dotted quarter, dotted quarter, quarter: 0, 3/8 and 6/8 of the bar.
const notes: TinyNote[] = [1, 2, 3, 4].flatMap((bar) =>
  [0, 6, 12].map((tick, k): TinyNote => [bar, tick, 3 - k, bar]),
);
const bare = { ...tinySheet(notes), rhythm: "none" as const };
const midis = unfoldSheet(bare).events.map((e) => e.midis[0] ?? 0);
const visits = [0, 1, 2, 3].flatMap((bar) =>
  [0, 0.375, 0.75].map((share, k) => ({ eventIdx: bar * 3 + k, sec: 1 + 2 * (bar + share) })),
);
const mapOf = (path: { visits: { eventIdx: number; sec: number }[] }, all = midis) =>
  tinyListening(
    path.visits.map((v) => ({ sec: v.sec, midi: all[v.eventIdx] ?? 0 })),
    12,
  ).evidence;
const path = { visits, score: 0 };

test("check/guess-rhythm: columns get their place in the bar from the playing (3/8 of 96 ticks = 36, by hand)", () => {
  const score = guessRhythm(unfoldSheet(bare), path, mapOf(path), 0);
  expect(score.hasRhythm).toBe(false);
  expect(score.events.map((e) => Math.round(e.startTick))).toEqual([
    0, 36, 72, 96, 132, 168, 192, 228, 264, 288, 324, 360,
  ]);
  expect(score.events[1]?.tick).toBe(6); // as written
});

test("check/guess-rhythm: a score with rhythm is left alone", () => {
  const score = unfoldSheet(tinySheet(notes));
  expect(guessRhythm(score, path, mapOf(path), 0)).toBe(score);
});

test("check/guess-rhythm: without a bar played through there is nothing to learn", () => {
  const score = unfoldSheet(bare);
  expect(guessRhythm(score, { visits: [], score: 0 }, mapOf(path), 0)).toBe(score);
});

test("check/guess-rhythm: a first bar of one beat is a pick-up: its note lies a quarter of a bar before bar 1 (24 of 96 ticks)", () => {
  const up: TinyNote[] = [
    [1, 0, 1, 3],
    ...notes.map(([bar, tick, string, fret]): TinyNote => [bar + 1, tick, string, fret]),
  ];
  const late = {
    visits: [{ eventIdx: 0, sec: 0.5 }, ...visits.map((v) => ({ ...v, eventIdx: v.eventIdx + 1 }))],
    score: 0,
  };
  const written = unfoldSheet({ ...tinySheet(up), rhythm: "none" });
  const map = mapOf(
    late,
    written.events.map((e) => e.midis[0] ?? 0),
  );
  const score = guessRhythm(written, late, map, 0);
  expect(score.events.slice(0, 3).map((e) => Math.round(e.startTick))).toEqual([72, 96, 132]);
});

test("check/guess-rhythm: a bar that lacks a column keeps the others where they sound, not evenly spread", () => {
  const lacking = notes.filter(([bar, tick]) => bar !== 3 || tick !== 6).map((n): TinyNote => [...n]);
  const order = lacking.map(
    ([bar, tick, string, fret]): TinyNote =>
      bar === 3 && tick === 12 ? [bar, 6, string, fret] : [bar, tick, string, fret],
  );
  const written = unfoldSheet({ ...tinySheet(order), rhythm: "none" });
  const played = visits.filter((v) => v.eventIdx !== 7); // bar 3, column 2
  const found = { visits: played.map((v, k) => ({ ...v, eventIdx: k })), score: 0 };
  const map = mapOf(
    found,
    written.events.map((e) => e.midis[0] ?? 0),
  );
  const score = guessRhythm(written, found, map, 0);
  expect(score.events.slice(6, 8).map((e) => Math.round(e.startTick))).toEqual([192, 264]); // 2 bars; and 3/4 of a bar more
});

test("check/guess-rhythm: spacing that is played with swing is bent as the bars that have the column bend it", () => {
  const quarters = [0, 12, 24, 36];
  const shares = [0, 1 / 3, 0.5, 5 / 6]; // long to short as 2 : 1 in a bar of two beats, by hand
  const spaced = [1, 2, 3, 4].flatMap((bar) =>
    quarters.flatMap((tick, k): TinyNote[] => (bar === 4 && k === 2 ? [] : [[bar, tick, 1 + k, bar]])),
  );
  const two = { ...tinySheet(spaced), rhythm: "none" as const };
  const written = unfoldSheet({ ...two, grid: { ...two.grid, meter: { beats: 2, unit: 4 } } });
  const found = {
    visits: written.events.map((e, k) => ({
      eventIdx: k,
      sec: 1 + 2 * (e.barIdx + (shares[quarters.indexOf(e.tick)] ?? 0)),
    })),
    score: 0,
  };
  const map = mapOf(
    found,
    written.events.map((e) => e.midis[0] ?? 0),
  );
  const score = guessRhythm(written, found, map, 0);
  expect(score.events.slice(-3).map((e) => Math.round(e.startTick - 3 * 96))).toEqual([0, 32, 80]);
});

test("check/guess-rhythm: where the spacing tells, a column stays at its place though its pitch sounds at another", () => {
  const spaced: TinyNote[] = [1, 2, 3].flatMap((bar) =>
    [0, 24, 48, 72].map((tick, k): TinyNote => [bar, tick, 1 + k, bar]),
  );
  const written = unfoldSheet({
    ...tinySheet([...spaced, [4, 0, 1, 5], [4, 72, 4, 5]]),
    rhythm: "none",
  });
  const found = {
    visits: written.events.map((e, k) => ({ eventIdx: k, sec: 1 + 2 * (e.barIdx + e.tick / 96) })),
    score: 0,
  };
  const sounds = found.visits.map((v) => ({
    sec: v.eventIdx === 12 ? v.sec + 0.5 : v.sec, // the first of bar 4 sounds a beat later
    midi: written.events[v.eventIdx]?.midis[0] ?? 0,
  }));
  const score = guessRhythm(written, found, tinyListening(sounds, 12).evidence, 0);
  expect(score.events.slice(-2).map((e) => Math.round(e.startTick - 3 * 96))).toEqual([0, 72]);
});
