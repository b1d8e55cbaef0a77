/** The machine's notes of some bars decided again, around what a hand has settled. */
import type { HandWeights } from "../../src/hands/cost-table.js";
import type { FrettedNote, Instrument } from "../../src/hands/fretted.js";
import { refretBar } from "../../src/hands/search.js";
import type { Listening } from "../../src/notes/played-note.js";
import type { Sheet, SheetNote } from "../../src/sheet/sheet.js";
import { secOf } from "./view.js";

const HIGHEST_FRET = 19; // from the nut, as drafts have it: most classical and steel-string guitars

/** @param weights of the search, where the teacher's corrections have moved them
 * @param listening what was heard, for the strings' own sound; where it does not tell, the place that is written speaks for itself
 * @returns the sheet with string, fret and fingers of the unlocked notes of `bars` decided anew; notes by hand and their places stay */
export function redecideBars(
  sheet: Sheet,
  bars: readonly number[],
  listening?: Listening,
  weights?: HandWeights,
): Sheet {
  if (!sheet.notes.some((n) => n.by === "machine" && bars.includes(n.bar))) return sheet;
  const instrument: Instrument = {
    openMidi: sheet.openMidi,
    capo: sheet.capo,
    highestFret: HIGHEST_FRET,
    scaleLengthMm: 650,
  };
  const before = sheet.notes.map((n) => fretted(sheet, n, listening));
  let after = before;
  for (const bar of bars) after = refretBar(after, bar, instrument, weights ? { weights } : {});
  const taken = new Set<string>();
  const notes = sheet.notes.map((note, idx): SheetNote => {
    const now = after[idx];
    if (!now || note.by === "hand" || !bars.includes(note.bar) || note.marks.length > 0) return note;
    return {
      ...note,
      string: now.string,
      fret: now.fret,
      finger: now.finger,
      leftFinger: now.leftFinger,
      alternatives: now.alternatives,
    };
  });
  for (const note of notes) {
    const key = `${note.bar} ${note.tick} ${note.string} ${note.marks.includes("grace")}`;
    if (taken.has(key)) return sheet; // two notes on one string: the old places were better
    taken.add(key);
  }
  notes.sort((a, b) => a.bar - b.bar || a.tick - b.tick || b.string - a.string);
  return { ...sheet, notes };
}

const HEARD_WITHIN_SEC = 0.06; // a note and its onset as heard: the listener's own tolerance

/** How likely each string is, strings 1…6: by its sound where that tells, always with some trust in the place that is written,
 * so that a bar mended in one place does not change in another without a reason. */
function sharesOf(note: SheetNote, listening: Listening | undefined): number[] {
  const { onsetSec } = note;
  const heard =
    onsetSec === undefined
      ? undefined
      : listening?.notes.find(
          (n) => n.midi === note.midi && Math.abs(n.onsetSec - onsetSec) < HEARD_WITHIN_SEC,
        )?.stringShares;
  const trust = Math.max(0.3, Math.min(0.95, note.confidence));
  return [1, 2, 3, 4, 5, 6].map((string) => {
    const written = string === note.string ? trust : (1 - trust) / 5;
    return heard ? (written + (heard[string - 1] ?? 0)) / 2 : written;
  });
}

function fretted(sheet: Sheet, note: SheetNote, listening: Listening | undefined): FrettedNote {
  const onsetSec = note.onsetSec ?? secOf(sheet, note.bar, note.tick);
  return {
    onsetSec,
    offsetSec:
      note.offsetSec ?? Math.max(onsetSec + 0.05, secOf(sheet, note.bar, note.tick + note.lengthTicks)),
    midi: note.midi,
    confidence: note.confidence,
    velocity: note.velocity ?? 0.6,
    stringShares: sharesOf(note, listening),
    bar: note.bar,
    tick: note.tick,
    lengthTicks: note.lengthTicks,
    ...(note.marks.includes("grace") ? { grace: true } : {}),
    string: note.string,
    fret: note.fret,
    finger: note.finger ?? "p",
    leftFinger: note.leftFinger ?? 0,
    by: note.by,
    placeConfidence: note.by === "hand" ? 1 : note.confidence,
    alternatives: note.alternatives,
  };
}
