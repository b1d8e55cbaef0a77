/** Which notes share a stem: one voice where one is enough, otherwise thumb below and fingers above.
 * In: notes of a bar. Out: one or two voices, each a line of chords that do not overlap; a string that rings past the next note of its voice
 * is written to that note, and what it rings on is kept beside it. Source: common practice of guitar notation, no published source. */
import type { SheetNote } from "../sheet/sheet.js";

/** Notes struck together; lengthTicks is the written length. `graces` come just before, in order. */
export type Chord = { tick: number; lengthTicks: number; notes: SheetNote[]; graces: SheetNote[] };
/** voice 1 has stems up; 2 (the thumb's) down. */
export type Voice = { voice: 1 | 2; isLow: boolean; chords: Chord[] };

/** Voices of one bar, lowest number first; an empty bar has one empty voice.
 * @param barTicks written lengths end with the bar */
export function assignVoices(notes: readonly SheetNote[], barTicks: number): Voice[] {
  const inBar = notes.filter((note) => note.tick < barTicks && !isGrace(note));
  const low = inBar.filter(isThumb);
  const high = inBar.filter((note) => !isThumb(note));
  const voices: Voice[] =
    low.length === 0 || high.length === 0 || fitsOneVoice(inBar, barTicks)
      ? [{ voice: 1, isLow: false, chords: line(inBar, barTicks) }]
      : [
          { voice: 1, isLow: false, chords: line(high, barTicks) },
          { voice: 2, isLow: true, chords: line(low, barTicks) },
        ];
  return withGraces(voices, notes, barTicks);
}

/** All notes of a bar on one stem line: what is plucked when, for tab that stands alone in print. */
export function oneLine(notes: readonly SheetNote[], barTicks: number): Voice[] {
  const inBar = notes.filter((n) => n.tick < barTicks && !isGrace(n));
  return withGraces([{ voice: 1, isLow: false, chords: line(inBar, barTicks) }], notes, barTicks);
}

/** A grace note leans on the chord at its tick, of its own string if there is one, else of its own hand's side, else of the other; without a
 * chord there on the next one, and after the last one on that. */
function withGraces(voices: Voice[], notes: readonly SheetNote[], barTicks: number): Voice[] {
  const graces = notes.filter((n) => isGrace(n) && n.tick < barTicks);
  for (const grace of graces.sort((a, b) => a.tick - b.tick || b.string - a.string)) {
    const own = voices.find((v) => v.isLow === isThumb(grace)) ?? voices[0];
    const ordered = [...voices].sort((a, b) => Number(b === own) - Number(a === own));
    const at = ordered.flatMap((v) => v.chords.filter((chord) => chord.tick === grace.tick));
    const main =
      at.find((chord) => chord.notes.some((n) => n.string === grace.string)) ??
      at[0] ??
      own?.chords.find((chord) => chord.tick >= grace.tick) ??
      ordered.flatMap((v) => v.chords).at(-1);
    main?.graces.push(grace);
  }
  return voices;
}

/** The thumb's notes go below; without a written letter the three bass strings are taken for the thumb's. */
const isThumb = (note: SheetNote): boolean =>
  note.finger === undefined ? note.string >= 4 : note.finger === "p";

/** True when nothing has to be shortened for all notes to share one line. */
function fitsOneVoice(notes: readonly SheetNote[], barTicks: number): boolean {
  return line(notes, barTicks).every((chord) =>
    chord.notes.every((note) => note.lengthTicks === chord.lengthTicks),
  );
}

function line(notes: readonly SheetNote[], barTicks: number): Chord[] {
  const chords: Chord[] = [];
  for (const note of [...notes].sort((a, b) => a.tick - b.tick || b.string - a.string)) {
    const last = chords.at(-1);
    if (last?.tick === note.tick) last.notes.push(note);
    else chords.push({ tick: note.tick, lengthTicks: 0, notes: [note], graces: [] });
  }
  for (const [idx, chord] of chords.entries()) {
    const room = (chords[idx + 1]?.tick ?? barTicks) - chord.tick;
    chord.lengthTicks = Math.max(1, Math.min(room, ...[Math.max(...chord.notes.map((n) => n.lengthTicks))]));
  }
  return chords;
}

const isGrace = (note: SheetNote): boolean => note.marks.includes("grace");
