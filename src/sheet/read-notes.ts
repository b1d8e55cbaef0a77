/** Notes of one bar of a text sheet: from the six lines, the letters under them, and the lengths that stand in words. */
import { PulgarError } from "../base/errors.js";
import type { Finding } from "../base/finding.js";
import type { LeftFinger } from "../hands/fretted.js";
import { BEAT_TICKS, compareNotes, isGrace, plainLength } from "./bar-time.js";
import { beatsText, parseBeats } from "./beats-text.js";
import { letterOfNotes } from "./letters.js";
import type { Header, TextLine } from "./read-header.js";
import type { SheetNote } from "./sheet.js";
import { nearestColumn, oddText, placeName, type Stretch, tickAt } from "./tab-lines.js";
import { readTokens } from "./token.js";

/** Columns of a bar: characters from the bar's first, and their ticks. */
export type Columns = { at: number[]; ticks: number[] };
/** The bar being read. `stretch` is where the rows above and below see it. */
export type BarPlace = {
  header: Pick<Header, "openMidi" | "capo" | "meter">;
  bar: number;
  ticksOfBar: number;
  columns: Columns;
  stretch: Stretch;
};

/** Highest fret that any guitar has, with room: 36 is three octaves. */
const HIGHEST_FRET = 36;
/** A note that the text marks as not sure has this probability, when nothing else is known. */
const UNSURE_CONFIDENCE = 0.5;

/** The notes on the six lines of a bar. @param stretches of strings 1 to 6 */
export function readStrings(
  place: BarPlace,
  lines: readonly TextLine[],
  stretches: readonly Stretch[],
  findings: Finding[],
): SheetNote[] {
  const notes: SheetNote[] = [];
  for (const [idx, line] of lines.entries()) {
    const stretch = stretches[idx];
    if (stretch) notes.push(...readString(place, idx + 1, line, stretch, findings));
  }
  return notes;
}

function readString(
  place: BarPlace,
  string: number,
  line: TextLine,
  stretch: Stretch,
  findings: Finding[],
): SheetNote[] {
  const { bar, ticksOfBar, columns, header } = place;
  const width = place.stretch.end - place.stretch.start;
  const longer = stretch.end - stretch.start - width;
  if (longer !== 0)
    findings.push(
      oddText(
        "text-columns",
        bar,
        `${placeName(line, stretch.start)}: string ${string} of bar ${bar} is ${Math.abs(longer)} characters ${longer > 0 ? "longer" : "shorter"} than the others`,
        "Add or take out dashes until the bar lines stand under each other; the notes were read by the nearest columns.",
      ),
    );
  const tickOf = (idx: number): number => {
    const char = idx - stretch.start;
    const plain = tickAt(char, columns.at, columns.ticks, width, ticksOfBar);
    if (plain.exact) return plain.tick;
    const moved = tickAt(char - longer, columns.at, columns.ticks, width, ticksOfBar);
    if (longer !== 0 && moved.exact) return moved.tick;
    findings.push(
      oddText(
        "text-columns",
        bar,
        `${placeName(line, idx)}: a sign of bar ${bar} stands under no count sign; it was placed by the nearest ones`,
        "Put it under a count sign, or add a count sign above it.",
      ),
    );
    return plain.tick;
  };
  const { notes: tokens, stops, strays } = readTokens(line.text, stretch.start, stretch.end);
  for (const stray of strays)
    findings.push(
      oddText(
        "text-sign",
        bar,
        `${placeName(line, stray.idx)}: "${stray.text}" means nothing here and was not read`,
        "Signs are explained at the foot of a written sheet.",
      ),
    );
  const notes: SheetNote[] = [];
  for (const token of tokens) {
    const midi = (header.openMidi[6 - string] ?? 0) + header.capo + token.fret;
    const tick = tickOf(token.column);
    const isGraceToken = token.marks.includes("grace");
    const taken = notes.some((n) => n.tick === tick && !isGrace(n)) && !isGraceToken;
    if (token.fret > HIGHEST_FRET || midi > 127 || taken) {
      findings.push(
        oddText(
          "text-note",
          bar,
          `${placeName(line, token.idx)}: ${taken ? `a second note on string ${string} at one place` : `fret ${token.fret} is on no guitar`}; it was left out`,
          "Mend the fret or move the note under a count sign of its own.",
        ),
      );
      continue;
    }
    notes.push({
      bar,
      tick,
      lengthTicks: 0,
      string,
      fret: token.fret,
      midi,
      marks: token.marks,
      by: token.unsure ? "machine" : "hand",
      confidence: token.unsure ? UNSURE_CONFIDENCE : 1,
      alternatives: [],
    });
  }
  for (const note of notes) note.lengthTicks = plainLength(note, notes, ticksOfBar);
  for (const stop of stops) {
    const tick = tickOf(stop.column);
    const note = notes.filter((n) => n.tick < tick && !isGrace(n)).at(-1);
    if (note && note.tick + note.lengthTicks > tick) note.lengthTicks = tick - note.tick;
    else
      findings.push(
        oddText(
          "text-sign",
          bar,
          `${placeName(line, stop.column)}: "." ends no note`,
          "A point stops the note before it on its string.",
        ),
      );
  }
  return notes;
}

/** Gives picking letters and left-hand fingers to the notes of a bar. */
export function readLetters(
  place: BarPlace,
  pickRows: readonly TextLine[],
  leftRows: readonly TextLine[],
  notes: readonly SheetNote[],
  findings: Finding[],
): void {
  const picks = stacks(place, pickRows, /[pima.]/, "p i m a", findings);
  const lefts = stacks(place, leftRows, /[0-4.]/, "0 to 4", findings);
  const ticks = new Set([...picks.keys(), ...lefts.keys()]);
  for (const tick of ticks) {
    const here = notes
      .filter((n) => n.tick === tick)
      .sort((a, b) => a.string - b.string || Number(isGrace(b)) - Number(isGrace(a)));
    const letters = picks.get(tick) ?? [];
    const fingers = letterOfNotes(
      letters,
      here.map((n) => n.string),
    );
    const digits = lefts.get(tick) ?? [];
    for (const [idx, note] of here.entries()) {
      const finger = fingers[idx];
      if (finger !== undefined) note.finger = finger;
      const digit = digits[idx];
      if (digit !== undefined && digit !== "." && digits.length === here.length)
        note.leftFinger = Number(digit) as LeftFinger;
    }
    for (const [stack, name] of [
      [letters, "picking letters"],
      [digits, "left-hand fingers"],
    ] as const)
      if (stack.length > 0 && stack.length !== here.length)
        findings.push({
          ...oddText(
            "text-letters",
            place.bar,
            `bar ${place.bar} beat ${beatsText(tick + BEAT_TICKS)}: ${stack.length} ${name} under ${here.length} notes`,
            'Give each note one sign, from the highest string down; "." for none.',
          ),
          level: here.length === 0 || stack.length < here.length ? "note" : "warning",
        });
  }
}

/** Letters of a bar by tick, top first. */
function stacks(
  place: BarPlace,
  rows: readonly TextLine[],
  accepted: RegExp,
  name: string,
  findings: Finding[],
): Map<number, string[]> {
  const found = new Map<number, string[]>();
  const { stretch, columns, bar } = place;
  for (const line of rows)
    for (const match of line.text.slice(0, stretch.end + 1).matchAll(/\S/g)) {
      if (match.index < stretch.start - 1) continue;
      const char = match.index - stretch.start;
      const column = nearestColumn(char, columns.at);
      const tick = columns.ticks[column] ?? 0;
      if (!accepted.test(match[0]) || Math.abs((columns.at[column] ?? 0) - char) > 1)
        findings.push(
          oddText(
            "text-letters",
            bar,
            `${placeName(line, match.index)}: "${match[0]}" was not read; want ${name} under a note`,
            "Put the letter in the column of its note.",
          ),
        );
      else found.set(tick, [...(found.get(tick) ?? []), match[0]]);
    }
  return found;
}

/** Lengths in words: BAR:BEAT(STRING)=BEATS. @throws PulgarError "bad-tab" for a word that is none */
export function applyHolds(
  header: Pick<Header, "meter" | "pickupBeats">,
  rows: readonly TextLine[],
  notes: readonly SheetNote[],
  findings: Finding[],
): void {
  const offset = (header.meter.beats - Math.min(header.meter.beats, header.pickupBeats)) * BEAT_TICKS;
  const keyOf = (bar: number, tick: number, string: number, grace: boolean): string =>
    `${bar} ${tick} ${string} ${grace}`;
  const byPlace = new Map(notes.map((n) => [keyOf(n.bar, n.tick, n.string, isGrace(n)), n]));
  for (const line of rows)
    for (const match of line.text.matchAll(/\S+/g)) {
      const parts = /^(\d{1,5}):([\d+/.]+)\((g?)([1-6])\)=([\d+/.]+)$/.exec(match[0]);
      const beat = parseBeats(parts?.[2] ?? "");
      const lengthTicks = parseBeats(parts?.[5] ?? "");
      if (!parts || beat === undefined || !lengthTicks)
        throw new PulgarError(
          "bad-tab",
          `${placeName(line, match.index)}: found "${match[0]}"; want BAR:BEAT(STRING)=BEATS such as 3:2+1/2(5)=1+1/2`,
          "Mend it or take it out.",
        );
      const bar = Number(parts[1]);
      const tick = beat - BEAT_TICKS - (bar === 0 ? Math.round(offset) : 0);
      const note = byPlace.get(keyOf(bar, tick, Number(parts[4]), parts[3] === "g"));
      if (note) note.lengthTicks = lengthTicks;
      else
        findings.push(
          oddText(
            "text-hold",
            bar,
            `${placeName(line, match.index)}: "${match[0]}" speaks of a note that is not there`,
            "Take it out, or mend its place.",
          ),
        );
    }
}

/** Notes in the order of a sheet. */
export const sortedNotes = (notes: readonly SheetNote[]): SheetNote[] => [...notes].sort(compareNotes);
