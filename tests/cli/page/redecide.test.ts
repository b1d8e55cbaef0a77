import fc from "fast-check";
import { expect, test } from "vitest";
import { redecideBars } from "../../../cli/page/redecide.js";
import { applyEdit, findNote } from "../../../src/sheet/edit.js";
import type { Sheet } from "../../../src/sheet/sheet.js";
import { perform } from "../../helpers/takes/perform.js";
import { studyNamed } from "../../helpers/takes/studies.js";
import { toSheet } from "../../helpers/takes/to-sheet.js";
import { anySheet } from "../../sheet/any-sheet.js";

const study = studyNamed("mixolydian-over-a");
function draft(): Sheet {
  const sheet = toSheet(study, perform(study, { seed: 1 }));
  return { ...sheet, notes: sheet.notes.map((n) => ({ ...n, by: "machine", confidence: 0.95 })) };
}
const music = (sheet: Sheet): string[] => sheet.notes.map((n) => `${n.bar}:${n.tick} midi ${n.midi}`).sort();

test("review redecide: a right draft stays as it is, bar by bar", () => {
  const sheet = draft();
  for (let bar = 1; bar <= sheet.grid.barCount; bar++) {
    const after = redecideBars(sheet, [bar]);
    expect(after.notes.map((n) => [n.string, n.fret])).toEqual(sheet.notes.map((n) => [n.string, n.fret]));
  }
});

test("review redecide: a note moved up the neck by hand stays, and its unlocked neighbours come into reach of it", () => {
  const at = { bar: 1, tick: 24, string: 2 }; // C#4, fret 2 in the draft
  const moved = applyEdit(draft(), { kind: "move-string", at, string: 3 }); // fret 6
  const after = redecideBars(moved, [1]);
  expect(findNote(after, { ...at, string: 3 })).toMatchObject({ fret: 6, by: "hand" });
  expect(music(after)).toEqual(music(moved)); // pitches and places in time are nobody's to change here
  // The A3 before it was on that string, fret 2: the other string that a hand at fret 6 holds it on is the fourth, fret 7 (by hand).
  const before = { bar: 1, tick: 12 };
  expect(findNote(moved, { ...before, string: 3 })).toMatchObject({ fret: 2, by: "machine" });
  expect(findNote(after, { ...before, string: 4 })).toMatchObject({ fret: 7, by: "machine" });
  expect(after.notes.filter((n) => n.bar > 1)).toEqual(moved.notes.filter((n) => n.bar > 1));
});

test("review redecide: with a capo the neck ends where it ends, not twice as early (fret 19 from the nut, by hand)", () => {
  const capo = 7;
  const one = draft().notes.slice(0, 1);
  const notes = one.map((n) => ({ ...n, string: 1, fret: 3, midi: 64 + capo + 3 }));
  const after = redecideBars({ ...draft(), capo, notes }, [1]);
  const places = after.notes.flatMap((n) => [{ string: n.string, fret: n.fret }, ...n.alternatives]);
  expect(places).toContainEqual({ string: 3, fret: 12 }); // 7 + 12 = 19
  expect(places).toHaveLength(3); // string 4 would need fret 24 from the nut
});

test("review redecide: on any sheet notes by hand and other bars stay, no pitch changes, no string sounds twice", () => {
  fc.assert(
    fc.property(anySheet, fc.integer({ min: 1, max: 9 }), (sheet, bar) => {
      const after = redecideBars(sheet, [bar]);
      const kept = (s: Sheet) => s.notes.filter((n) => n.by === "hand" || n.bar !== bar);
      expect(kept(after)).toEqual(kept(sheet));
      expect(music(after)).toEqual(music(sheet));
      const places = after.notes.map((n) => `${n.bar} ${n.tick} ${n.string} ${n.marks.includes("grace")}`);
      expect(new Set(places).size).toBe(places.length);
    }),
    { numRuns: 150, seed: 3 },
  );
});
