/** Each thing that the text sheet must carry, tried on generated sheets that have it. */
import fc from "fast-check";
import { expect, test } from "vitest";
import { barTicks, plainLength } from "../../src/sheet/bar-time.js";
import { handEdits } from "../../src/sheet/merge.js";
import { sheetFromText } from "../../src/sheet/parse.js";
import { type NoteMark, type Sheet, UNSURE_BELOW } from "../../src/sheet/sheet.js";
import { sheetToText } from "../../src/sheet/text.js";
import { TUNINGS } from "../../src/theory/tuning-table.js";
import { anySheet } from "./any-sheet.js";

const SHEETS = fc.sample(anySheet, { numRuns: 1500, seed: 1955 });
const LEAST = 20; // sheets that have the thing, or the test says nothing

const withMark =
  (mark: NoteMark) =>
  (sheet: Sheet): boolean =>
    sheet.notes.some((n) => n.marks.includes(mark));
/** Of every beat's 24 ticks, these and no coarser ones: what only this division can write. */
const dividedIn =
  (ticks: readonly number[]) =>
  (sheet: Sheet): boolean =>
    sheet.rhythm !== "none" && sheet.notes.some((n) => ticks.includes(n.tick % 24));

const THINGS: readonly (readonly [string, (sheet: Sheet) => boolean])[] = [
  ...TUNINGS.map(({ name }) => [`tuning ${name}`, (s: Sheet) => s.tuningName === name] as const),
  ["a tuning without a name", (s) => s.tuningName === "own"],
  ["a capo", (s) => s.capo > 0],
  ...[
    [2, 4],
    [3, 4],
    [4, 4],
    [5, 4],
    [6, 8],
    [7, 8],
    [9, 8],
    [12, 8],
    [2, 2],
    [3, 16],
  ].map(
    ([beats, unit]) =>
      [
        `meter ${beats}/${unit}`,
        (s: Sheet) => s.grid.meter.beats === beats && s.grid.meter.unit === unit,
      ] as const,
  ),
  ["triplets", dividedIn([8, 16])],
  ["sextuplets", dividedIn([4, 20])],
  ["eighths of a beat", dividedIn([3, 9, 15, 21])],
  ["places that no division has", dividedIn([1, 5, 7, 11, 13, 17, 19, 23])],
  ["a tie", withMark("tie")],
  [
    "a tie over the bar line",
    (s) => s.notes.some((n) => n.marks.includes("tie") && n.tick === 0 && n.bar > 1),
  ],
  ["let ring", withMark("let-ring")],
  ["a hammer-on", withMark("hammer-on")],
  ["a pull-off", withMark("pull-off")],
  ["a slide", withMark("slide")],
  ["a grace note", withMark("grace")],
  ["a dead note", withMark("dead")],
  ["a harmonic", withMark("harmonic")],
  [
    "a rest on a string",
    (s) =>
      s.notes.some(
        (n) =>
          !n.marks.includes("grace") &&
          n.lengthTicks <
            plainLength(
              n,
              s.notes.filter((o) => o.bar === n.bar && o.string === n.string),
              barTicks(s, n.bar),
            ),
      ),
  ],
  [
    "a bar without a note",
    (s) => s.grid.barCount > new Set(s.notes.filter((n) => n.bar > 0).map((n) => n.bar)).size,
  ],
  ["no note at all", (s) => s.notes.length === 0],
  ["a pick-up bar", (s) => s.grid.pickupBeats > 0 && s.notes.some((n) => n.bar === 0)],
  ["repeats", (s) => s.repeats.length > 0],
  ["endings", (s) => s.repeats.some((r) => r.endings.length > 1)],
  [
    "more than one round of the first ending",
    (s) => s.repeats.some((r) => (r.endings[0]?.times.length ?? 0) > 1),
  ],
  ["swing", (s) => s.grid.feel === "swing"],
  [
    "picking letters on a chord",
    (s) =>
      s.notes.some((n) =>
        s.notes.some((o) => o !== n && o.bar === n.bar && o.tick === n.tick && n.finger && o.finger),
      ),
  ],
  ["left-hand fingers", (s) => s.showLeftHand === true && s.notes.some((n) => n.leftFinger !== undefined)],
  ["notes that are not sure", (s) => s.notes.some((n) => n.confidence < UNSURE_BELOW)],
  ["chords that are not sure", (s) => s.chords.some((c) => c.confidence < UNSURE_BELOW)],
  ["frets over 9", (s) => s.notes.some((n) => n.fret > 9)],
  ["a form", (s) => s.form.length > 0],
  ["a mode and its reasons", (s) => s.mode !== undefined],
  ["no rhythm", (s) => s.rhythm === "none"],
];

for (const [thing, has] of THINGS)
  test(`sheet/text: ${thing}: read back whole, and written again in the same bytes`, () => {
    const found = SHEETS.filter(has);
    expect(found.length).toBeGreaterThanOrEqual(LEAST);
    for (const sheet of found.slice(0, 4 * LEAST)) {
      const text = sheetToText(sheet);
      const read = sheetFromText(text);
      expect(read.findings).toEqual([]);
      expect(read.sheet).toEqual(sheet);
      expect(sheetToText(read.sheet)).toBe(text);
      expect(handEdits(sheet, read.sheet)).toEqual(sheet);
    }
  });
