/** What differs between two sheets, note by note and chord by chord.
 * In: two sheets of the same piece. Out: differences in sheet order. Method: notes are paired by place and string, then by place and pitch,
 * then by place alone; the rest was added or removed. Cannot: see that a whole bar was moved. */
import { isGrace } from "./bar-time.js";
import type { Sheet, SheetChord, SheetNote } from "./sheet.js";

export type SheetDifference =
  | { kind: "note-added"; after: SheetNote }
  | { kind: "note-removed"; before: SheetNote }
  | { kind: "note-changed"; before: SheetNote; after: SheetNote }
  | { kind: "chord-added"; after: SheetChord }
  | { kind: "chord-removed"; before: SheetChord }
  | { kind: "chord-changed"; before: SheetChord; after: SheetChord };

/** Bar of a difference. */
export const barOfDifference = (d: SheetDifference): number => ("after" in d ? d.after.bar : d.before.bar);

/** Does the music of two notes differ? Confidence and times are not music. */
export const isSameNote = (a: SheetNote, b: SheetNote, withLeftHand = true): boolean =>
  a.bar === b.bar &&
  a.tick === b.tick &&
  a.string === b.string &&
  a.fret === b.fret &&
  a.lengthTicks === b.lengthTicks &&
  a.finger === b.finger &&
  (!withLeftHand || a.leftFinger === b.leftFinger) &&
  [...a.marks].sort().join() === [...b.marks].sort().join();

/** Pairs the notes of two sheets. @returns for each note of `after` its partner in `before`; and the partners' leftovers */
export function pairNotes(
  before: readonly SheetNote[],
  after: readonly SheetNote[],
): { partner: Map<SheetNote, SheetNote>; unpaired: SheetNote[] } {
  const partner = new Map<SheetNote, SheetNote>();
  const left = new Set(before);
  const rounds: ((n: SheetNote) => string)[] = [
    (n) => `${n.bar} ${n.tick} ${isGrace(n)} ${n.string}`,
    (n) => `${n.bar} ${n.tick} ${isGrace(n)} ${n.midi}`,
  ];
  for (const keyOf of rounds) {
    const byKey = new Map<string, SheetNote[]>();
    for (const note of left) {
      const list = byKey.get(keyOf(note));
      if (list) list.push(note);
      else byKey.set(keyOf(note), [note]);
    }
    for (const note of after) {
      if (partner.has(note)) continue;
      const found = byKey.get(keyOf(note))?.shift();
      if (!found) continue;
      partner.set(note, found);
      left.delete(found);
    }
  }
  return { partner, unpaired: before.filter((n) => left.has(n)) };
}

const chordKey = (c: { bar: number; beat: number }): string => `${c.bar} ${Math.round(c.beat * 24)}`;

/** Pairs chords by place. */
export function pairChords(
  before: readonly SheetChord[],
  after: readonly SheetChord[],
): { partner: Map<SheetChord, SheetChord>; unpaired: SheetChord[] } {
  const byKey = new Map(before.map((c) => [chordKey(c), c]));
  const partner = new Map<SheetChord, SheetChord>();
  for (const chord of after) {
    const found = byKey.get(chordKey(chord));
    if (!found) continue;
    partner.set(chord, found);
    byKey.delete(chordKey(chord));
  }
  return { partner, unpaired: [...byKey.values()] };
}

/** All differences of music between two sheets, by bar. */
export function diffSheets(before: Sheet, after: Sheet): SheetDifference[] {
  const notes = pairNotes(before.notes, after.notes);
  const chords = pairChords(before.chords, after.chords);
  const differences: SheetDifference[] = [
    ...notes.unpaired.map((note): SheetDifference => ({ kind: "note-removed", before: note })),
    ...chords.unpaired.map((chord): SheetDifference => ({ kind: "chord-removed", before: chord })),
  ];
  for (const note of after.notes) {
    const old = notes.partner.get(note);
    if (!old) differences.push({ kind: "note-added", after: note });
    else if (!isSameNote(old, note)) differences.push({ kind: "note-changed", before: old, after: note });
  }
  for (const chord of after.chords) {
    const old = chords.partner.get(chord);
    if (!old) differences.push({ kind: "chord-added", after: chord });
    else if (old.symbol !== chord.symbol)
      differences.push({ kind: "chord-changed", before: old, after: chord });
  }
  return differences.sort((a, b) => barOfDifference(a) - barOfDifference(b));
}
