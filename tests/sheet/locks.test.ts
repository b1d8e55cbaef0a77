import { expect, test } from "vitest";
import type { LeftFinger } from "../../src/hands/fretted.js";
import { fretNotes } from "../../src/hands/search.js";
import { applyEdit } from "../../src/sheet/edit.js";
import { locksOf } from "../../src/sheet/locks.js";
import type { Sheet, SheetNote } from "../../src/sheet/sheet.js";
import { hear } from "../helpers/hands/played.js";
import { studyNamed } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";

const study = studyNamed("low-tide");
const heard = hear(study);
const drafted = fretNotes(heard.notes, heard.instrument);
const sheet: Sheet = {
  ...toSheet(study),
  notes: toSheet(study).notes.map((n): SheetNote => ({ ...n, by: "machine" })),
};

test("sheet/locks: a left finger that a hand wrote is locked, and the search obeys it in the next draft", () => {
  let tried = 0;
  drafted.forEach((note, k) => {
    if (tried === 5 || note.leftFinger < 1 || k % 7 !== 0) return;
    const at = sheet.notes.find((n) => n.bar === note.bar && n.tick === note.tick && n.midi === note.midi);
    if (at === undefined || at.string !== note.string) return;
    tried++;
    const leftFinger = (note.leftFinger === 1 ? 2 : note.leftFinger - 1) as LeftFinger;
    const locks = locksOf(applyEdit(sheet, { kind: "set-left-finger", at, leftFinger }));
    expect(locks).toMatchObject([{ bar: note.bar, tick: note.tick, midi: note.midi, leftFinger }]);
    const again = fretNotes(heard.notes, heard.instrument, { locks });
    expect(again[k]).toMatchObject({ string: note.string, fret: note.fret, leftFinger, by: "hand" });
  });
  expect(tried).toBe(5);
});
