/** What a hand has fixed, for the fretboard search to keep. */
import type { Lock } from "../hands/fretted.js";
import type { Sheet } from "./sheet.js";

/** One lock for every note by hand, in sheet order. Tied notes are not plucked and give none. */
export function locksOf(sheet: Sheet): Lock[] {
  return sheet.notes
    .filter((n) => n.by === "hand" && !n.marks.includes("tie"))
    .map((n) => ({
      bar: n.bar,
      tick: n.tick,
      midi: n.midi,
      string: n.string,
      fret: n.fret,
      ...(n.finger === undefined ? {} : { finger: n.finger }),
      ...(n.leftFinger === undefined ? {} : { leftFinger: n.leftFinger }),
    }));
}
