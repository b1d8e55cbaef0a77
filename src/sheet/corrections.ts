/** What a hand changed of the places and left fingers that the machine had written.
 * In: a sheet before and after. Out: one correction a note, for nudging the fretboard search. */
import type { PlaceCorrection } from "../hands/cost-table.js";
import { isGrace } from "./bar-time.js";
import type { Sheet, SheetNote } from "./sheet.js";

/** @property at which note: bar, tick and pitch as one word */
export type SheetCorrection = PlaceCorrection & { at: string };

const keyOf = (n: SheetNote): string => `${n.bar}:${n.tick}:${n.midi}${isGrace(n) ? "g" : ""}`;

/** Notes that were the machine's and are a hand's now, on another string, or on the same with another left finger. A pitch that was
 * mended says nothing about hands. */
export function placeCorrections(before: Sheet, after: Sheet): SheetCorrection[] {
  const old = new Map(before.notes.filter((n) => n.by === "machine").map((n) => [keyOf(n), n]));
  return after.notes.flatMap((note): SheetCorrection[] => {
    const was = old.get(keyOf(note));
    if (was === undefined || note.by !== "hand") return [];
    const from = { string: was.string, fret: was.fret };
    const to = { string: note.string, fret: note.fret };
    if (was.string !== note.string) return [{ at: keyOf(note), from, to }];
    const [f, t] = [was.leftFinger, note.leftFinger];
    if (f === undefined || t === undefined || f === t) return [];
    return [{ at: keyOf(note), from: { ...from, leftFinger: f }, to: { ...to, leftFinger: t } }];
  });
}
