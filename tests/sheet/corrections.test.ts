import { expect, test } from "vitest";
import { placeCorrections } from "../../src/sheet/corrections.js";
import { applyEdit } from "../../src/sheet/edit.js";
import type { Sheet, SheetNote } from "../../src/sheet/sheet.js";
import { studyNamed } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";

/** A sheet as the machine leaves it. */
const drafted = (): Sheet => {
  const sheet = toSheet(studyNamed("low-tide"));
  return { ...sheet, notes: sheet.notes.map((n): SheetNote => ({ ...n, by: "machine" })) };
};

/** A note that another string could play too, with the fret it has there. */
function movable(sheet: Sheet): { note: SheetNote; string: number; fret: number } {
  for (const note of sheet.notes)
    for (const string of [1, 2, 3, 4, 5, 6]) {
      const fret = note.midi - (sheet.openMidi[6 - string] ?? 0) - sheet.capo;
      const isFree = !sheet.notes.some((n) => n.bar === note.bar && n.string === string);
      if (string !== note.string && fret >= 0 && fret < 13 && isFree) return { note, string, fret };
    }
  throw new Error("the study has no such note");
}

test("sheet/corrections: a string that a hand changed is one correction, from the drafted place to the new one", () => {
  const before = drafted();
  const { note, string, fret } = movable(before);
  const after = applyEdit(before, { kind: "move-string", at: note, string });
  expect(placeCorrections(before, after)).toEqual([
    {
      at: `${note.bar}:${note.tick}:${note.midi}`,
      from: { string: note.string, fret: note.fret },
      to: { string, fret },
    },
  ]);
});

test("sheet/corrections: a left finger counts where the place stays; another pitch, a settled note and no change do not", () => {
  const before = drafted();
  const stopped = before.notes.find((n) => n.fret > 0) as SheetNote;
  const first = applyEdit(before, { kind: "set-left-finger", at: stopped, leftFinger: 1 });
  const fingered = { ...first, notes: first.notes.map((n): SheetNote => ({ ...n, by: "machine" })) };
  const again = applyEdit(fingered, { kind: "set-left-finger", at: stopped, leftFinger: 4 });
  expect(placeCorrections(fingered, again).map((c) => [c.from.leftFinger, c.to.leftFinger])).toEqual([
    [1, 4],
  ]);
  expect(placeCorrections(before, applyEdit(before, { kind: "settle-note", at: stopped }))).toEqual([]);
  expect(
    placeCorrections(before, applyEdit(before, { kind: "set-fret", at: stopped, fret: stopped.fret + 1 })),
  ).toEqual([]);
  expect(placeCorrections(before, before)).toEqual([]);
});

test("sheet/corrections: what was a hand's already is no correction of the machine", () => {
  const before = drafted();
  const { note, string } = movable(before);
  const once = applyEdit(before, { kind: "move-string", at: note, string });
  const back = applyEdit(once, { kind: "move-string", at: { ...note, string }, string: note.string });
  expect(placeCorrections(once, back)).toEqual([]);
});
