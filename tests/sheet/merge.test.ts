import fc from "fast-check";
import { expect, test } from "vitest";
import { applyEdit } from "../../src/sheet/edit.js";
import { locksOf } from "../../src/sheet/locks.js";
import { handEdits, mergeHand } from "../../src/sheet/merge.js";
import { sheetFromText } from "../../src/sheet/parse.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import { sheetToText } from "../../src/sheet/text.js";
import { perform } from "../helpers/takes/perform.js";
import { studyNamed } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";
import { anySheet } from "./any-sheet.js";

/** A draft: the machine's, every fourth note not sure. */
function draft(): Sheet {
  const study = studyNamed("mixolydian-over-a");
  const sheet = toSheet(study, perform(study, { seed: 1 }));
  return {
    ...sheet,
    notes: sheet.notes.map((n, k) => ({ ...n, by: "machine", confidence: k % 4 === 3 ? 0.5 : 0.9 })),
    chords: sheet.chords.map((c) => ({ ...c, by: "machine", confidence: 0.9 })),
  };
}
/** The draft's text, changed as in an editor, joined with the draft. */
const edited = (change: (text: string) => string): Sheet => {
  const text = sheetToText(draft());
  const changed = change(text);
  expect(changed).not.toBe(text);
  const { sheet, findings } = sheetFromText(changed);
  expect(findings.filter((f) => f.level !== "note")).toEqual([]); // a letter that has lost its note is noted
  return handEdits(draft(), sheet);
};
const byHand = (sheet: Sheet) =>
  sheet.notes.filter((n) => n.by === "hand").map((n) => [n.bar, n.tick, n.string, n.fret, n.finger]);
const firstG = (text: string, from: string, to: string): string =>
  text.replace(new RegExp(`(     G\\|)${from}`), `$1${to}`);

test("sheet/merge: an untouched text changes nothing", () => {
  expect(handEdits(draft(), sheetFromText(sheetToText(draft())).sheet)).toEqual(draft());
});

test("sheet/merge: text and JSON of any sheet agree with themselves", () => {
  fc.assert(
    fc.property(anySheet, (sheet) => {
      expect(handEdits(sheet, sheetFromText(sheetToText(sheet)).sheet)).toEqual(sheet);
    }),
    { numRuns: 100, seed: 41 },
  );
});

test("sheet/merge: a changed fret is by hand, keeps its times, and the old pitch is not to come back", () => {
  const sheet = edited((t) => firstG(t, "----2", "----4"));
  expect(byHand(sheet)).toEqual([[1, 12, 3, 4, "i"]]);
  expect(sheet.notes.find((n) => n.by === "hand")?.onsetSec).toBe(draft().notes[1]?.onsetSec);
  expect(sheet.removed).toEqual([{ bar: 1, tick: 12, midi: 57 }]);
  expect(locksOf(sheet)).toEqual([{ bar: 1, tick: 12, midi: 59, string: 3, fret: 4, finger: "i" }]);
});

test("sheet/merge: a note taken out is remembered, one put in is by hand", () => {
  const gone = edited((t) => firstG(t, "----2", "-----"));
  expect(gone.removed).toEqual([{ bar: 1, tick: 12, midi: 57 }]);
  const added = edited((t) => t.replace(/( {5}D\|)-{4}/, "$1-0--"));
  expect(byHand(added).map((n) => n.slice(0, 4))).toEqual([[1, 0, 4, 0]]);
});

test("sheet/merge: taking the mark of doubt away settles a note, putting one there opens it", () => {
  const text = sheetToText(draft());
  expect(text).toContain("0?");
  const settled = edited((t) => t.replace("0?", "0-"));
  expect(byHand(settled)).toEqual([[1, 36, 1, 0, "a"]]);
  const doubted = edited((t) => firstG(t, "----2-", "----2?"));
  expect(doubted.notes[1]).toMatchObject({ by: "machine", confidence: 0.5, fret: 2 });
});

test("sheet/merge: a chord, a letter and a header line changed in the text are by hand", () => {
  const chord = edited((t) => t.replace(" G/A", " G/B"));
  expect(chord.chords.filter((c) => c.by === "hand").map((c) => [c.bar, c.symbol, c.bass])).toEqual([
    [2, "G/B", "B"],
  ]);
  const letter = edited((t) => t.replace("pick    p  i  m", "pick    p  m  m"));
  expect(byHand(letter)).toEqual([[1, 12, 3, 2, "m"]]);
  const head = edited((t) =>
    t.replace("title: Mixolydian over A", "title: Evening study").replace("A 1-4", "Intro 1-4"),
  );
  expect(head).toMatchObject({ title: "Evening study", handSet: ["title", "form"] });
});

test("sheet/merge: a new draft keeps every edit, re-decides the rest and says what changed", () => {
  const hand = edited((t) => firstG(t, "----2-----------2", "----4------------").replace(" G/A", " G/B"));
  const again = draft();
  again.notes = again.notes.map((n) =>
    n.bar === 3 && n.tick === 12 ? { ...n, fret: 5, midi: n.midi + 3 } : n,
  );
  const { sheet, kept, changed } = mergeHand(again, hand);
  expect(byHand(sheet)).toEqual(byHand(hand));
  expect(sheet.notes.some((n) => n.bar === 1 && n.tick === 60 && n.string === 3)).toBe(false);
  expect(sheet.notes.some((n) => n.bar === 1 && n.tick === 12 && n.midi === 57)).toBe(false);
  expect(sheet.notes.find((n) => n.bar === 3 && n.tick === 12)).toMatchObject({ fret: 5, by: "machine" });
  expect(sheet.chords.find((c) => c.bar === 2)).toMatchObject({ symbol: "G/B", by: "hand" });
  // One note and one chord by hand, two pitches that must not come back.
  expect(kept).toBe(4);
  expect(changed.map((f) => [f.rule, f.bar])).toEqual([["redecided", 3]]);
  expect(changed[0]?.message).toContain("string 3 fret 2 at beat 1+1/2 is now string 3 fret 5");
});

test("sheet/merge: merging again and again loses nothing", () => {
  let hand = draft();
  for (const edit of [
    { kind: "delete-note", at: { bar: 2, tick: 12, string: 3 } },
    { kind: "move-place", at: { bar: 3, tick: 12, string: 3 }, bar: 3, tick: 18 },
    { kind: "move-string", at: { bar: 4, tick: 12, string: 3 }, string: 4 },
    { kind: "delete-chord", bar: 5, beat: 1 },
    { kind: "set-title", title: "Mine" },
  ] as const)
    hand = applyEdit(hand, edit);
  const once = mergeHand(draft(), hand).sheet;
  const twice = mergeHand(draft(), handEdits(once, sheetFromText(sheetToText(once)).sheet)).sheet;
  expect(twice).toEqual(once);
  expect(sheetToText(once)).toBe(sheetToText(hand));
});

test("sheet/merge: a longer chord name written over another shifts its row; the chords after it stay where they were", () => {
  const sheet = edited((t) => t.replace(" G/A", " Gmaj7/A")); // four letters more: the rest of the row goes right by four
  expect(sheet.chords.map((c) => [c.bar, c.beat, c.symbol, c.by]).slice(0, 4)).toEqual([
    [1, 1, "A", "machine"],
    [2, 1, "Gmaj7/A", "hand"],
    [3, 1, "D/A", "machine"],
    [4, 1, "A", "machine"],
  ]);
  const moved = edited((t) => t.replace(/ G\/A( +)D\/A/, (_, gap: string) => ` G/A${gap}   D/A`)); // moved on purpose: it stays moved
  expect(moved.chords.find((c) => c.bar === 3)).toMatchObject({ symbol: "D/A", by: "hand" });
  expect(moved.chords.find((c) => c.bar === 3)?.beat).toBeGreaterThan(1);
});

test("sheet/merge: a grid that a hand has set is the grid of the next draft", () => {
  const hand = applyEdit(draft(), { kind: "set-grid", tempoBpm: 192 });
  const { sheet } = mergeHand(draft(), hand);
  expect(sheet.grid).toMatchObject({ tempoBpm: 192, barCount: 16 });
  expect(sheet.notes.map((n) => [n.bar, n.tick])).toEqual(hand.notes.map((n) => [n.bar, n.tick]));
});
