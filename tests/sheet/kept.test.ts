/** What a hand changes in a text, on any sheet: it is seen as a hand's, and no later draft takes it back. */
import fc from "fast-check";
import { expect, test } from "vitest";
import { PulgarError } from "../../src/base/errors.js";
import { applyEdit, type Edit, findNote } from "../../src/sheet/edit.js";
import { handEdits, mergeHand } from "../../src/sheet/merge.js";
import { sheetFromText } from "../../src/sheet/parse.js";
import { type Sheet, UNSURE_BELOW } from "../../src/sheet/sheet.js";
import { sheetToText } from "../../src/sheet/text.js";
import { anySheet } from "./any-sheet.js";

/** A machine's draft of any shape. */
const anyDraft = anySheet.map(
  (sheet): Sheet => ({
    ...sheet,
    notes: sheet.notes.map((n) => ({ ...n, by: "machine" })),
    chords: sheet.chords.map((c) => ({ ...c, by: "machine" })),
  }),
);
const anyEdits = fc.array(
  fc.record({
    pick: fc.nat(99),
    what: fc.nat(7),
    fret: fc.nat(24),
    string: fc.integer({ min: 1, max: 6 }),
    bar: fc.integer({ min: 1, max: 9 }),
    beat: fc.nat(3),
  }),
  { minLength: 1, maxLength: 6 },
);

/** The draft as a hand leaves it, and the places that it touched. */
function editedBy(
  draft: Sheet,
  list: readonly { pick: number; what: number; fret: number; string: number; bar: number; beat: number }[],
): Sheet {
  let sheet = draft;
  for (const { pick, what, fret, string, bar, beat } of list) {
    const note = sheet.notes[pick % Math.max(1, sheet.notes.length)];
    const at = note
      ? { bar: note.bar, tick: note.tick, string: note.string, grace: note.marks.includes("grace") }
      : { bar: 1, tick: 0, string: 1 };
    const edit = (
      [
        { kind: "set-fret", at, fret },
        { kind: "delete-note", at },
        { kind: "settle-note", at },
        { kind: "set-finger", at, finger: "a" },
        { kind: "move-string", at, string },
        { kind: "add-note", note: { bar, tick: 24 * beat, string, fret } },
        { kind: "rename-chord", bar, beat: 1 + beat, symbol: fret % 2 ? "Am" : "F#m7b5/E" },
        { kind: "set-title", title: `By hand ${fret}` },
      ] satisfies Edit[]
    )[what] as Edit;
    try {
      sheet = applyEdit(sheet, edit);
    } catch (e) {
      if (!(e instanceof PulgarError)) throw e; // a place that no string has: nothing was edited
    }
  }
  return sheet;
}
/** Is it plain from the text whose letters are whose? Where a note came or went and left letters behind it, two readings are possible: theirs
 * is that a hand left the letters alone. */
function lettersAreClear(draft: Sheet, edited: Sheet): boolean {
  const at = (sheet: Sheet, n: { bar: number; tick: number }) =>
    sheet.notes.filter((o) => o.bar === n.bar && o.tick === n.tick);
  return edited.notes.every((n) => {
    const [olds, news] = [at(draft, n), at(edited, n)];
    return olds.length === 0 || olds.length === news.length || !olds.some((o) => o.finger);
  });
}
const ref = (n: Sheet["notes"][number]) => ({ ...n, grace: n.marks.includes("grace") });

test("sheet/merge: any edits of a text are seen as a hand's, and what was not touched stays the machine's", () => {
  let seen = 0;
  fc.assert(
    fc.property(anyDraft, anyEdits, (draft, list) => {
      const edited = editedBy(draft, list);
      fc.pre(lettersAreClear(draft, edited));
      const text = sheetToText(edited);
      const joined = handEdits(draft, sheetFromText(text).sheet);
      expect(sheetToText(joined)).toBe(text);
      for (const note of joined.notes) {
        const was = findNote(draft, ref(note));
        const isTouched =
          !was ||
          was.fret !== note.fret ||
          was.finger !== note.finger ||
          was.lengthTicks !== note.lengthTicks ||
          was.confidence < UNSURE_BELOW !== note.confidence < UNSURE_BELOW;
        expect(note.by, JSON.stringify([was, note])).toBe(isTouched ? "hand" : "machine");
        if (isTouched) seen++;
      }
    }),
    { numRuns: 150, seed: 59 },
  );
  expect(seen).toBeGreaterThan(150);
});

test("sheet/merge: whatever the next draft says, the text that a hand left comes out of it again where the hand was", () => {
  fc.assert(
    fc.property(anyDraft, anyEdits, anyEdits, (draft, list, others) => {
      const joined = handEdits(draft, sheetFromText(sheetToText(editedBy(draft, list))).sheet);
      // the same draft: nothing but the hand's work differs from it
      const same = mergeHand(draft, joined).sheet;
      expect(sheetToText(same)).toBe(sheetToText(joined));
      // another draft: heard otherwise in places
      const other: Sheet = {
        ...editedBy(draft, others),
        title: draft.title,
      };
      const asDraft: Sheet = {
        ...other,
        notes: other.notes.map((n) => ({ ...n, by: "machine" as const })),
        chords: other.chords.map((c) => ({ ...c, by: "machine" as const })),
      };
      const { removed: _r, removedChords: _c, handSet: _h, ...bare } = asDraft;
      const { sheet } = mergeHand(bare, joined);
      for (const note of joined.notes.filter((n) => n.by === "hand"))
        expect(findNote(sheet, ref(note))).toMatchObject({
          fret: note.fret,
          lengthTicks: note.lengthTicks,
          marks: note.marks,
          by: "hand",
        });
      for (const { bar, tick, midi } of joined.removed ?? [])
        expect(sheet.notes.some((n) => n.bar === bar && n.tick === tick && n.midi === midi)).toBe(false);
      for (const chord of joined.chords.filter((c) => c.by === "hand"))
        expect(sheet.chords).toContainEqual(
          expect.objectContaining({ bar: chord.bar, beat: chord.beat, symbol: chord.symbol }),
        );
      if (joined.handSet?.includes("title")) expect(sheet.title).toBe(joined.title);
    }),
    { numRuns: 100, seed: 61 },
  );
});
