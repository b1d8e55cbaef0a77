/** Time within written bars: ticks of a bar, the pick-up's place, order of notes, the length a note has when nothing is said.
 * In: sheets and notes. Out: numbers in ticks (24 a beat). */
import type { Sheet, SheetNote } from "./sheet.js";

/** As in grid/grid.ts (types only may come from there); a test holds the two equal. */
export const BEAT_TICKS = 24;

/** A grace note is this long when nothing is said: a thirty-second of a quarter beat, from memory of common playing. */
const GRACE_TICKS = 3;

export const isGrace = (note: Pick<SheetNote, "marks">): boolean => note.marks.includes("grace");

/** Ticks of bar 0: its beats, or as many as its notes need where those are more; never more than a whole bar. */
export function pickupTicks(sheet: Pick<Sheet, "grid" | "notes">): number {
  const full = sheet.grid.meter.beats * BEAT_TICKS;
  let ticks = Math.round(sheet.grid.pickupBeats * BEAT_TICKS);
  for (const note of sheet.notes)
    if (note.bar === 0 && note.tick >= ticks) ticks = Math.ceil((note.tick + 1) / BEAT_TICKS) * BEAT_TICKS;
  return Math.min(ticks, full);
}

/** Ticks of a bar. */
export const barTicks = (sheet: Pick<Sheet, "grid" | "notes">, bar: number): number =>
  bar === 0 ? pickupTicks(sheet) : sheet.grid.meter.beats * BEAT_TICKS;

/** Bars in written order, the pick-up as 0 in front. */
export function writtenBars(sheet: Pick<Sheet, "grid" | "notes">): number[] {
  let last = sheet.grid.barCount;
  for (const note of sheet.notes) if (note.bar > last) last = note.bar;
  const first = pickupTicks(sheet) > 0 ? 0 : 1;
  return Array.from({ length: Math.max(0, last - first + 1) }, (_, idx) => first + idx);
}

/** Order of the notes of a sheet: bar, tick, string from 6 to 1, grace notes before their main note. */
export const compareNotes = (a: SheetNote, b: SheetNote): number =>
  a.bar - b.bar || a.tick - b.tick || b.string - a.string || Number(isGrace(b)) - Number(isGrace(a));

/** Sounding pitch of a place. */
export const midiAt = (sheet: Pick<Sheet, "openMidi" | "capo">, string: number, fret: number): number =>
  (sheet.openMidi[6 - string] ?? 0) + sheet.capo + fret;

/** How long a note is when its length is not written: until the next note on its string, or to the end of its bar.
 * Common practice of fingerstyle tab (let ring unless told otherwise), no published source.
 * @param sameString notes of the same bar on the same string, any order */
export function plainLength(note: SheetNote, sameString: readonly SheetNote[], ticksOfBar: number): number {
  if (isGrace(note)) return GRACE_TICKS;
  let end = ticksOfBar;
  for (const other of sameString)
    if (!isGrace(other) && other.tick > note.tick && other.tick < end) end = other.tick;
  return end - note.tick;
}

/** Notes by bar, each list in sheet order. */
export function notesOfBars(notes: readonly SheetNote[]): Map<number, SheetNote[]> {
  const map = new Map<number, SheetNote[]>();
  for (const note of notes) {
    const list = map.get(note.bar);
    if (list) list.push(note);
    else map.set(note.bar, [note]);
  }
  for (const list of map.values()) list.sort(compareNotes);
  return map;
}
