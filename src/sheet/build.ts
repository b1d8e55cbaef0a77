/** The hands' notes, the grid and the harmony become a Sheet. Pure assembly: nothing is decided anew but what a page needs.
 * In: fretted notes, grid, chords, mode, form, the take. Out: Sheet, its notes in order, one note a string and place, lengths as tab writes them.
 * Cannot: know of damping that the recording does not show plainly; a string rings to its next note or the bar line unless it clearly stops. */
import type { Finding } from "../base/finding.js";
import { roundTo } from "../base/numbers.js";
import type { Grid } from "../grid/grid.js";
import type { FrettedNote } from "../hands/fretted.js";
import type { ChordSpan, ModeGuess } from "../harmony/harmony.js";
import { barTicks, compareNotes, isGrace, plainLength } from "./bar-time.js";
import type { FormPart, Pattern, Sheet, SheetNote, SheetTake } from "./sheet.js";

/** All that a sheet is made of. Optional parts are left out where they are not known. */
export type SheetParts = {
  title: string;
  composer?: string;
  notes: readonly FrettedNote[];
  grid: Grid;
  chords: readonly ChordSpan[];
  mode?: ModeGuess;
  pattern?: Pattern;
  form: readonly FormPart[];
  groupOfBar: readonly number[];
  take?: SheetTake;
  tuningName: string;
  openMidi: readonly number[];
  capo: number;
  findings: readonly Finding[];
};

const BUILD_DEFAULTS = Object.freeze({
  // A note that sounds for this share of the time to its string's next note is written to last until then: ears judge the
  // end of a decaying string no better, and fingerstyle tab is let ring (common practice, no published source).
  ringShare: 0.5,
  ringBeats: 1, // and one that falls short of it by no more than this many beats
});

/** Assembles a sheet. A note's confidence is that it is there times that its place is right. */
export function buildSheet(parts: SheetParts): Sheet {
  const { grid } = parts;
  const isTimed = parts.take !== undefined;
  const sheet: Sheet = {
    title: parts.title,
    composer: parts.composer ?? "",
    tuningName: parts.tuningName,
    openMidi: [...parts.openMidi],
    capo: parts.capo,
    ...(parts.take ? { take: { ...parts.take } } : {}),
    grid: {
      tempoBpm: roundTo(grid.tempoBpm, 2),
      tempoFrom: grid.tempoFrom,
      meter: { ...grid.meter },
      feel: grid.feel,
      swingRatio: grid.feel === "swing" ? roundTo(grid.swingRatio, 3) : 1,
      beatSec: isTimed ? [...grid.beatSec] : [],
      firstBeatSec: isTimed ? (grid.beatSec[0] ?? 0) : 0,
      barCount: grid.barCount,
      pickupBeats: grid.pickupBeats,
      countInBeats: grid.countInBeats,
      confidence: grid.confidence,
      readings: [...grid.readings],
    },
    notes: [],
    chords: parts.chords.map((chord) => ({ ...timed(chord, isTimed), by: "machine" as const })),
    ...(parts.mode ? { mode: parts.mode } : {}),
    ...(parts.pattern ? { pattern: parts.pattern } : {}),
    form: parts.form.map((p) => ({ label: p.label, bars: [...p.bars] })),
    // Bars played twice stand twice here, each with its own times; repeat signs over them would have them played four times.
    repeats: [],
    groupOfBar: [...parts.groupOfBar],
    findings: [...parts.findings],
  };
  const notes = parts.notes.map((note) => sheetNote(note, isTimed)).sort(compareNotes);
  sheet.grid.barCount = notes.reduce((count, n) => Math.max(count, n.bar), sheet.grid.barCount);
  sheet.notes = onePerPlace(notes, sheet.findings);
  writeLengths(sheet);
  liftFingers(sheet);
  return sheet;
}

function timed(chord: ChordSpan, isTimed: boolean): Omit<Sheet["chords"][number], "by"> {
  if (isTimed) return { ...chord };
  const { startSec: _start, endSec: _end, ...rest } = chord;
  return rest;
}

function sheetNote(note: FrettedNote, isTimed: boolean): SheetNote {
  const isHand = note.by === "hand";
  return {
    bar: note.bar,
    tick: note.tick,
    lengthTicks: Math.max(1, note.lengthTicks),
    string: note.string,
    fret: note.fret,
    midi: note.midi,
    finger: note.finger,
    leftFinger: note.leftFinger,
    marks: note.grace ? ["grace"] : [],
    by: note.by,
    confidence: isHand ? 1 : roundTo(Math.max(0, Math.min(1, note.confidence * note.placeConfidence)), 4),
    alternatives: note.alternatives.map((a) => ({ ...a })),
    ...(isTimed ? { onsetSec: note.onsetSec, offsetSec: note.offsetSec } : {}),
    ...(note.velocity === undefined ? {} : { velocity: note.velocity }),
  };
}

/** Of two notes on one string at one place the surer stays (a hand's before a machine's); the other is said. */
function onePerPlace(notes: readonly SheetNote[], findings: Finding[]): SheetNote[] {
  const kept = new Map<string, SheetNote>();
  const rank = (n: SheetNote): number => (n.by === "hand" ? 2 : 0) + n.confidence;
  for (const note of notes) {
    const key = `${note.bar} ${note.tick} ${note.string} ${isGrace(note)}`;
    const other = kept.get(key);
    if (!other) {
      kept.set(key, note);
      continue;
    }
    const [stays, goes] = rank(note) > rank(other) ? [note, other] : [other, note];
    kept.set(key, stays);
    if (goes.midi !== stays.midi)
      findings.push({
        rule: "string-twice",
        level: "warning",
        bar: note.bar,
        message: `string ${note.string} cannot sound frets ${stays.fret} and ${goes.fret} at once; fret ${stays.fret} was kept`,
        hint: "Listen to that beat and add the other note on another string if it is there.",
      });
  }
  return [...kept.values()].sort(compareNotes);
}

/** Lengths as tab writes them: cut at the string's next note, and rounded up to it where the sound does not plainly stop before. */
function writeLengths(sheet: Sheet): void {
  const byString = new Map<string, SheetNote[]>();
  for (const note of sheet.notes) {
    const key = `${note.bar} ${note.string}`;
    byString.set(key, [...(byString.get(key) ?? []), note]);
  }
  for (const list of byString.values())
    for (const note of list) {
      if (note.by === "hand") continue;
      const plain = plainLength(note, list, barTicks(sheet, note.bar));
      const { ringShare, ringBeats } = BUILD_DEFAULTS;
      const isRinging = note.lengthTicks >= ringShare * plain || plain - note.lengthTicks <= ringBeats * 24;
      if (isGrace(note) || isRinging) note.lengthTicks = plain;
    }
}

/** Ends a note where one hand cannot hold it any longer: a finger that holds it stops another place, or stands across another. So
 * what is written to ring together is one grip. */
function liftFingers(sheet: Sheet): void {
  const byBar = new Map<number, SheetNote[]>();
  for (const note of sheet.notes) {
    if (isGrace(note) || (note.leftFinger ?? 0) === 0) continue;
    byBar.set(note.bar, [...(byBar.get(note.bar) ?? []), note]);
  }
  for (const list of byBar.values())
    for (const note of list) {
      if (note.by === "hand") continue;
      for (const next of list) {
        const afterTicks = next.tick - note.tick;
        if (afterTicks > 0 && afterTicks < note.lengthTicks && isCrossed(note, next))
          note.lengthTicks = afterTicks;
      }
    }
}

/** Two stopped notes that fingers cannot hold at once: one finger at two frets, or fingers against the order of frets. */
function isCrossed(a: SheetNote, b: SheetNote): boolean {
  const [fa, fb] = [a.leftFinger ?? 0, b.leftFinger ?? 0];
  if (a.string === b.string || a.fret === b.fret) return false;
  return fa === fb || fa < fb !== a.fret < b.fret;
}
