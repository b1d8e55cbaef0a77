import { expect, test } from "vitest";
import { checkSheet, sheetStands } from "../../src/check/compare.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import { playTiny, risingBars, tinyListening, tinySheet } from "../helpers/check/tiny.js";

const sheet = tinySheet(risingBars(6));
type Played = ReturnType<typeof playTiny>;
const check = (written: Sheet, change: (played: Played) => Played = (p) => p) =>
  checkSheet(written, tinyListening(change(playTiny(sheet, 1, 0.4)), 12));
const spoiled = (change: (notes: Sheet["notes"]) => Sheet["notes"]): Sheet => ({
  ...sheet,
  notes: change(sheet.notes.map((n) => ({ ...n, marks: [] }))),
});
const isAt = (bar: number, tick: number) => (n: { bar: number; tick: number }) =>
  n.bar === bar && n.tick === tick;

test("check/compare: a right sheet stands, every note heard where it was played", () => {
  const report = check(sheet);
  expect(report.summary).toEqual({
    written: 24,
    matched: 24,
    missing: 0,
    extra: 0,
    wrongPitch: 0,
    timing: 0,
  });
  expect(sheetStands(report)).toBe(true);
  report.heardAtSec.forEach((sec, k) => {
    expect(Math.abs((sec as number) - (1 + k * 0.4))).toBeLessThan(0.011);
  });
});

test("check/compare: a fret written two too high is one wrong pitch, with the fret that was heard", () => {
  const report = check(
    spoiled((notes) => notes.map((n) => (isAt(3, 24)(n) ? { ...n, fret: n.fret + 2, midi: n.midi + 2 } : n))),
  );
  const right = sheet.notes.find(isAt(3, 24));
  expect(report.differences).toHaveLength(1);
  expect(report.differences[0]).toMatchObject({
    kind: "wrong-pitch",
    bar: 3,
    beat: 2,
    string: right?.string,
    writtenMidi: (right?.midi ?? 0) + 2,
    playedMidi: right?.midi,
    playedFret: right?.fret,
  });
  expect(report.bars.map((b) => b.verdict)).toEqual(["same", "same", "differs", "same", "same", "same"]);
});

test("check/compare: an octave above on the sixth string is told on the open third, not at fret 15", () => {
  const low = tinySheet([...risingBars(5), [6, 0, 6, 3], [6, 24, 1, 0], [6, 48, 2, 0], [6, 72, 1, 0]]);
  const sounds = playTiny(low, 1, 0.4).map((n) => (isAt(6, 0)(n) ? { ...n, midi: 55 } : n));
  const { differences } = checkSheet(low, tinyListening(sounds, 12));
  expect(differences).toMatchObject([
    { kind: "wrong-pitch", bar: 6, string: 6, fret: 3, playedMidi: 55, playedString: 3, playedFret: 0 },
  ]);
});

test("check/compare: a note the sheet lacks is extra, one that was not played is missing", () => {
  const extra = check(spoiled((notes) => notes.filter((n) => !isAt(2, 48)(n))));
  expect(extra.differences).toMatchObject([
    { kind: "extra", bar: 2, playedMidi: sheet.notes.find(isAt(2, 48))?.midi },
  ]);
  const missing = check(sheet, (played) => played.filter((n) => !isAt(5, 72)(n)));
  expect(missing.differences).toMatchObject([{ kind: "missing", bar: 5, beat: 4 }]);
});

test("check/compare: 150 ms late is late beyond a tolerance of 80 ms and in time within 200 ms", () => {
  const late = (played: Played): Played =>
    played.map((n) => (isAt(4, 24)(n) ? { ...n, sec: n.sec + 0.15 } : n));
  const report = check(sheet, late);
  expect(report.differences).toMatchObject([{ kind: "late", bar: 4, beat: 2 }]);
  expect(Math.abs((report.differences[0]?.offMs ?? 0) - 150)).toBeLessThan(25);
  const lenient = checkSheet(sheet, tinyListening(late(playTiny(sheet, 1, 0.4)), 12), {
    timingToleranceMs: 200,
  });
  expect(lenient.differences).toEqual([]);
});

test("check/compare: a repeat written and played is asked twice, a slip in the second time through is told once", () => {
  const repeated: Sheet = { ...sheet, repeats: [{ fromBar: 1, toBar: 2, times: 2, endings: [] }] };
  const played = playTiny(sheet, 1, 0.4, [1, 2, 1, 2, 3, 4, 5, 6]);
  const slip = played.filter((_, k) => k !== 9);
  const report = checkSheet(repeated, tinyListening(slip, 16));
  expect(report.differences).toMatchObject([{ kind: "missing", bar: 1, beat: 2 }]);
});

test("check/compare: a pitch that the listener does not cover makes its bar unsure, never a difference", () => {
  const high = spoiled((notes) =>
    notes.map((n) => (isAt(6, 72)(n) ? { ...n, string: 1, fret: 28, midi: 92 } : n)),
  );
  const report = check(high, (played) => played.filter((n) => !isAt(6, 72)(n)));
  expect(report.differences).toEqual([]);
  expect(report.bars[5]?.verdict).toBe("unsure");
});

test("check/compare: another piece is said, not listed", () => {
  const other = tinyListening(
    Array.from({ length: 30 }, (_, k) => ({ sec: 1 + k * 0.37, midi: 40 + ((k * 7) % 24) })),
    13,
  );
  expect(() => checkSheet(sheet, other)).toThrowError(
    expect.objectContaining({
      code: "other-music",
      message: expect.stringContaining("do not look like the same music"),
    }),
  );
});

test("check/compare: a sheet or a recording without notes is refused", () => {
  for (const body of [
    () => checkSheet(tinySheet([]), tinyListening([{ sec: 1, midi: 60 }], 3)),
    () => checkSheet(sheet, tinyListening([], 3)),
  ])
    expect(body).toThrowError(expect.objectContaining({ code: "no-notes" }));
});

test("check/compare: a chord name over the wrong third makes its bar differ", () => {
  const minor = tinySheet([...risingBars(5), [6, 0, 5, 0], [6, 24, 3, 2], [6, 48, 2, 1], [6, 72, 1, 0]]);
  const chord = {
    bar: 6,
    beat: 1,
    symbol: "A",
    root: "A",
    bass: "A",
    confidence: 1,
    alternatives: [],
    by: "hand" as const,
  };
  const report = checkSheet({ ...minor, chords: [chord] }, tinyListening(playTiny(minor, 1, 0.4), 12));
  expect(report.differences).toEqual([]);
  expect(report.bars[5]?.verdict).toBe("differs");
  expect(sheetStands(report)).toBe(false);
});
