import fc from "fast-check";
import { expect, test } from "vitest";
import { PulgarError } from "../../src/base/errors.js";
import { barTicks, plainLength } from "../../src/sheet/bar-time.js";
import { diffSheets } from "../../src/sheet/diff.js";
import { applyEdit, type Edit, findNote } from "../../src/sheet/edit.js";
import { sheetFromJson, sheetToJson } from "../../src/sheet/json.js";
import { locksOf } from "../../src/sheet/locks.js";
import { sheetFromText } from "../../src/sheet/parse.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import { siblingEdits } from "../../src/sheet/siblings.js";
import { sheetToText } from "../../src/sheet/text.js";
import { perform } from "../helpers/takes/perform.js";
import { studyNamed } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";
import { anySheet } from "./any-sheet.js";

/** A drafted sheet: the machine's, with times. */
function draft(): Sheet {
  const study = studyNamed("mixolydian-over-a");
  const sheet = toSheet(study, perform(study, { seed: 1 }));
  return { ...sheet, notes: sheet.notes.map((n) => ({ ...n, by: "machine", confidence: 0.6 })) };
}
const FIRST_TREBLE = { bar: 1, tick: 12, string: 3 }; // G string, fret 2 = A3

for (const [what, edit, expected] of [
  [
    "another string keeps the pitch",
    { kind: "move-string", at: FIRST_TREBLE, string: 4 },
    { string: 4, fret: 7, midi: 57, by: "hand", confidence: 1, alternatives: [{ string: 3, fret: 2 }] },
  ],
  [
    "a fret changes the pitch",
    { kind: "set-fret", at: FIRST_TREBLE, fret: 4 },
    { string: 3, fret: 4, midi: 59, by: "hand", alternatives: [] },
  ],
  ["a picking finger", { kind: "set-finger", at: FIRST_TREBLE, finger: "m" }, { finger: "m", by: "hand" }],
  [
    "a left-hand finger",
    { kind: "set-left-finger", at: FIRST_TREBLE, leftFinger: 3 },
    { leftFinger: 3, by: "hand" },
  ],
  ["a length", { kind: "set-length", at: FIRST_TREBLE, lengthTicks: 12 }, { lengthTicks: 12, by: "hand" }],
  ["marks", { kind: "set-marks", at: FIRST_TREBLE, marks: ["slide"] }, { marks: ["slide"], by: "hand" }],
  ["settling", { kind: "settle-note", at: FIRST_TREBLE }, { by: "hand", confidence: 1, fret: 2 }],
] as const)
  test(`sheet/edit: ${what} (by hand)`, () => {
    const before = draft();
    const after = applyEdit(before, edit as Edit);
    const string = "string" in expected ? expected.string : 3;
    expect(findNote(after, { ...FIRST_TREBLE, string })).toMatchObject(expected);
    expect(after.notes.length).toBe(before.notes.length);
    expect(before).toEqual(draft());
  });

test("sheet/edit: the finger of another fret goes when a note moves to another string, and is not locked (by hand)", () => {
  const { notes, ...rest } = draft();
  const fingered: Sheet = { ...rest, notes: notes.map((n) => ({ ...n, leftFinger: n.fret === 0 ? 0 : 2 })) };
  const after = applyEdit(fingered, { kind: "move-string", at: FIRST_TREBLE, string: 4 });
  expect(findNote(after, { ...FIRST_TREBLE, string: 4 })?.leftFinger).toBeUndefined();
  expect(locksOf(after).filter((l) => l.leftFinger !== undefined)).toEqual([]);
});

test("sheet/edit: a moved note leaves its place and takes the plain length of the new one", () => {
  const after = applyEdit(draft(), { kind: "move-place", at: FIRST_TREBLE, bar: 1, tick: 18 });
  expect(findNote(after, FIRST_TREBLE)).toBeUndefined();
  expect(findNote(after, { ...FIRST_TREBLE, tick: 18 })).toMatchObject({ lengthTicks: 60 - 18, by: "hand" });
  expect(after.removed).toEqual([{ bar: 1, tick: 12, midi: 57 }]);
});

test("sheet/edit: a deleted note is remembered and the note before it rings on; adding it again forgets", () => {
  const before = draft();
  const at = { bar: 1, tick: 60, string: 3 };
  const gone = applyEdit(before, { kind: "delete-note", at });
  expect(gone.removed).toEqual([{ bar: 1, tick: 60, midi: 57 }]);
  expect(findNote(gone, FIRST_TREBLE)?.lengthTicks).toBe(72);
  const back = applyEdit(gone, { kind: "add-note", note: { ...at, fret: 2, finger: "i" } });
  expect(back.removed).toBeUndefined();
  expect(findNote(back, at)).toMatchObject({ midi: 57, by: "hand", lengthTicks: 24 });
  expect(findNote(back, FIRST_TREBLE)?.lengthTicks).toBe(48);
});

test("sheet/edit: chords are renamed, deleted and remembered", () => {
  const named = applyEdit(draft(), { kind: "rename-chord", bar: 2, beat: 1, symbol: "Gadd9/A" });
  expect(named.chords[1]).toMatchObject({
    symbol: "Gadd9/A",
    root: "G",
    bass: "A",
    by: "hand",
    alternatives: ["G/A"],
  });
  const gone = applyEdit(named, { kind: "delete-chord", bar: 2, beat: 1 });
  expect(gone.chords.some((c) => c.bar === 2)).toBe(false);
  expect(gone.removedChords).toEqual([{ bar: 2, beat: 1 }]);
});

test("sheet/edit: impossible edits are refused with a code", () => {
  const sheet = draft();
  for (const [edit, code] of [
    [{ kind: "move-string", at: { bar: 1, tick: 0, string: 5 }, string: 1 }, "unplayable"],
    [{ kind: "set-fret", at: FIRST_TREBLE, fret: 40 }, "unplayable"],
    [{ kind: "set-fret", at: { bar: 1, tick: 13, string: 3 }, fret: 1 }, "bad-usage"],
    [{ kind: "move-place", at: FIRST_TREBLE, bar: 99, tick: 0 }, "bad-usage"],
    [{ kind: "rename-chord", bar: 2, beat: 1, symbol: " " }, "bad-usage"],
    [{ kind: "set-grid", tempoBpm: 0 }, "bad-tempo"],
    [{ kind: "set-grid", meter: { beats: 4, unit: 5 } }, "bad-meter"],
  ] as const)
    expect(() => applyEdit(sheet, edit as Edit)).toThrow(expect.objectContaining({ code }));
});

test("sheet/siblings: the same edit is offered for the bars that are the same music and not settled there", () => {
  const sheet = draft();
  sheet.groupOfBar = [0, 1, 2, 0, 0, 3, 1, 4];
  const settled = applyEdit(sheet, { kind: "settle-bar", bar: 4 });
  const edit: Edit = { kind: "set-fret", at: FIRST_TREBLE, fret: 4 };
  expect(siblingEdits(sheet, edit).map((e) => "at" in e && e.at.bar)).toEqual([4, 5]);
  expect(siblingEdits(settled, edit).map((e) => "at" in e && e.at.bar)).toEqual([5]);
});

test("sheet/diff: an edit and its undoing are seen as one change and none", () => {
  const before = draft();
  const after = applyEdit(before, { kind: "move-string", at: FIRST_TREBLE, string: 4 });
  expect(diffSheets(before, after).map((d) => d.kind)).toEqual(["note-changed"]);
  expect(diffSheets(before, before)).toEqual([]);
  expect(
    diffSheets(before, applyEdit(before, { kind: "delete-note", at: FIRST_TREBLE })).map((d) => d.kind),
  ).toEqual(["note-removed"]);
});

test("sheet/regrid: double tempo halves the bars' music exactly, and back again is the same music", () => {
  const before = draft();
  const fast = applyEdit(before, { kind: "set-grid", tempoBpm: 192 });
  expect(fast.grid).toMatchObject({ tempoBpm: 192, barCount: 16 });
  expect(findNote(fast, { bar: 1, tick: 24, string: 3 })).toMatchObject({ fret: 2 });
  expect(findNote(fast, { bar: 2, tick: 24, string: 3 })).toMatchObject({ fret: 2 });
  const back = applyEdit(fast, { kind: "set-grid", tempoBpm: 96 });
  const music = (s: Sheet) => s.notes.map((n) => [n.bar, n.tick, n.string, n.fret, n.lengthTicks]);
  expect(music(back)).toEqual(music(before));
});

test("sheet/regrid: the first beat a beat later makes the first beat a pick-up; another meter counts on", () => {
  const before = draft();
  const later = applyEdit(before, { kind: "set-grid", firstBeatSec: before.grid.beatSec[1] as number });
  expect(later.grid.pickupBeats).toBe(1);
  expect(findNote(later, { bar: 0, tick: 12, string: 3 })).toMatchObject({ fret: 2 });
  expect(later.grid.firstBeatSec).toBeCloseTo(before.grid.beatSec[1] as number, 3);
  const three = applyEdit(before, { kind: "set-grid", meter: { beats: 3, unit: 4 } });
  expect(findNote(three, { bar: 2, tick: 24, string: 5 })).toMatchObject({ fret: 0 }); // was bar 2 beat 1: beat 5 of all
});

test("sheet/regrid: a first beat that was a fifth of a beat off places the notes anew by their sound", () => {
  const right = draft();
  const shift = 0.2 * (60 / 96);
  const off: Sheet = {
    ...right,
    grid: {
      ...right.grid,
      beatSec: right.grid.beatSec.map((s) => s - shift),
      firstBeatSec: right.grid.firstBeatSec - shift,
    },
  };
  const mended = applyEdit(off, { kind: "set-grid", firstBeatSec: right.grid.firstBeatSec });
  const places = (s: Sheet) => s.notes.map((n) => [n.bar, n.tick, n.string]);
  expect(places(mended)).toEqual(places(right));
});

test("sheet/edit: any edits on any sheet leave one that is written, read and ordered as sheets are", () => {
  const edits = fc.array(
    fc.record({
      pick: fc.nat(99),
      what: fc.nat(9),
      a: fc.integer({ min: 0, max: 24 }),
      b: fc.integer({ min: 1, max: 6 }),
      c: fc.nat(95),
    }),
    { minLength: 1, maxLength: 8 },
  );
  fc.assert(
    fc.property(anySheet, edits, (start, list) => {
      let sheet = start;
      for (const { pick, what, a, b, c } of list) {
        const note = sheet.notes[pick % Math.max(1, sheet.notes.length)];
        const at = note
          ? { bar: note.bar, tick: note.tick, string: note.string, grace: note.marks.includes("grace") }
          : { bar: 1, tick: 0, string: 1 };
        const edit = [
          { kind: "move-string", at, string: b },
          { kind: "set-fret", at, fret: a },
          { kind: "set-finger", at, finger: "none" },
          { kind: "move-place", at, bar: b, tick: c },
          { kind: "set-length", at, lengthTicks: a + 1 },
          { kind: "delete-note", at },
          { kind: "add-note", note: { bar: b, tick: c, string: (a % 6) + 1, fret: a } },
          { kind: "settle-bar", bar: b },
          { kind: "set-grid", tempoBpm: 20 + 10 * a, ...(a % 2 ? { meter: { beats: b, unit: 4 } } : {}) },
          { kind: "rename-chord", bar: b, beat: 1 + c / 24, symbol: "Am" },
        ][what] as Edit;
        try {
          sheet = applyEdit(sheet, edit);
        } catch (e) {
          expect(e).toBeInstanceOf(PulgarError);
        }
      }
      const text = sheetToText(sheet);
      const read = sheetFromText(text);
      expect(read.findings).toEqual([]);
      expect(sheetToText(read.sheet)).toBe(text);
      expect(read.sheet.notes.map((n) => [n.bar, n.tick, n.string, n.fret, n.lengthTicks])).toEqual(
        sheet.notes.map((n) => [n.bar, n.tick, n.string, n.fret, n.lengthTicks]),
      );
      expect(sheetFromJson(JSON.parse(JSON.stringify(sheetToJson(sheet))))).toEqual(sheet);
    }),
    { numRuns: 300, seed: 31 },
  );
});

test("sheet/bar-time: a note lasts to the next on its string or the bar's end (by hand)", () => {
  const sheet = draft();
  const onG = sheet.notes.filter((n) => n.bar === 1 && n.string === 3);
  expect(onG.map((n) => plainLength(n, onG, barTicks(sheet, 1)))).toEqual([48, 24, 12]);
});
