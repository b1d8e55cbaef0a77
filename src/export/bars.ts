/** Sheet notes by bar, the ticks of a bar, and the notes that are joined to the next one on their string. */
import type { Sheet, SheetChord, SheetNote } from "../sheet/sheet.js";
import type { Joins } from "./note-xml.js";

const BEAT_TICKS = 24;

/** Bar numbers in written order: 0 first where there is a pick-up, then 1…barCount. */
export function barNumbers(sheet: Sheet): number[] {
  const last = sheet.notes.reduce((max, note) => Math.max(max, note.bar), sheet.grid.barCount);
  const first = sheet.grid.pickupBeats > 0 || sheet.notes.some((note) => note.bar === 0) ? 0 : 1;
  return Array.from({ length: Math.max(0, last - first + 1) }, (_, idx) => first + idx);
}

/** Ticks of a bar; the pick-up (bar 0) is as long as its beats, or as its notes where the beats are not told. */
export function barTicks(sheet: Sheet, bar: number): number {
  const full = sheet.grid.meter.beats * BEAT_TICKS;
  if (bar !== 0) return full;
  const told = Math.round(sheet.grid.pickupBeats * BEAT_TICKS);
  let needed = told;
  for (const note of sheet.notes)
    if (note.bar === 0 && note.tick >= told)
      needed = Math.max(needed, Math.ceil((note.tick + 1) / BEAT_TICKS) * BEAT_TICKS);
  return needed > 0 ? Math.min(needed, full) : full;
}

/** Notes of each bar. */
export function notesByBar(sheet: Sheet): Map<number, SheetNote[]> {
  const map = new Map<number, SheetNote[]>();
  for (const note of sheet.notes) {
    const list = map.get(note.bar);
    if (list) list.push(note);
    else map.set(note.bar, [note]);
  }
  return map;
}

/** Chords of each bar with their tick, in order. */
export function chordsByBar(sheet: Sheet): Map<number, { tick: number; chord: SheetChord }[]> {
  const map = new Map<number, { tick: number; chord: SheetChord }[]>();
  for (const chord of sheet.chords) {
    const list = map.get(chord.bar) ?? [];
    list.push({ tick: Math.round((chord.beat - 1) * BEAT_TICKS), chord });
    map.set(chord.bar, list);
  }
  for (const list of map.values()) list.sort((a, b) => a.tick - b.tick);
  return map;
}

/** For every note: is the next one on its string a tie or a slur from it? */
export function joinsOf(notes: readonly SheetNote[]): Joins {
  const joins = new Map<SheetNote, { tie: boolean; slurTo: SheetNote | undefined }>();
  const lastOnString = new Map<number, SheetNote>();
  const ordered = [...notes].sort(
    (a, b) =>
      a.bar - b.bar ||
      a.tick - b.tick ||
      Number(b.marks.includes("grace")) - Number(a.marks.includes("grace")) ||
      b.string - a.string,
  );
  for (const note of ordered) {
    const before = lastOnString.get(note.string);
    if (before) {
      const slurred = note.marks.some((m) => m === "hammer-on" || m === "pull-off" || m === "slide");
      joins.set(before, { tie: note.marks.includes("tie"), slurTo: slurred ? note : undefined });
    }
    lastOnString.set(note.string, note);
  }
  return joins;
}
