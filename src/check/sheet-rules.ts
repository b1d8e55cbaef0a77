/** What a sheet says against itself, with no recording: a string and fret that cannot sound the written pitch, a chord name that
 * contradicts the notes under it, picking letters that contradict the strings.
 * In: Sheet. Out: findings, by bar. Sources: pitch = open string + capo + fret (by definition of the tab); p on strings 6–4, i 3, m 2,
 * a 1 is the classical rule of the hand (common practice, no published source) with its usual exceptions allowed.
 * Can't do: judge a chord from fewer than three pitch classes. */
import type { Finding } from "../base/finding.js";
import { mod } from "../base/numbers.js";
import type { Sheet, SheetChord, SheetNote } from "../sheet/sheet.js";
import { noteInKey } from "../theory/scale.js";
import { TICKS_A_BEAT } from "./written.js";

const LETTER_CLASS: Readonly<Record<string, number>> = Object.freeze({
  C: 0,
  D: 2,
  E: 4,
  F: 5,
  G: 7,
  A: 9,
  B: 11,
});

/** Pitch class of a spelled root such as "F#" or "Bb"; undefined when it is none. */
export function rootClass(root: string): number | undefined {
  const found = /^([A-G])([#b♯♭]?)$/.exec(root);
  const base = LETTER_CLASS[found?.[1] ?? ""];
  if (base === undefined) return undefined;
  const sign = found?.[2] ?? "";
  return mod(base + (sign === "#" || sign === "♯" ? 1 : sign === "b" || sign === "♭" ? -1 : 0), 12);
}

/** Third and fifth that a symbol promises, in semitones above its root; undefined members are open. */
export function promisedTones(symbol: string): { third?: number; fifth?: number } {
  const body = symbol.replace(/^[A-G][#b♯♭]?/, "").replace(/\/.*$/, "");
  if (/^5/.test(body) || /sus/.test(body)) return { fifth: 7 };
  if (/dim|°|ø|m7b5|m7♭5/.test(body)) return { third: 3, fifth: 6 };
  if (/^(aug|\+)/.test(body)) return { third: 4, fifth: 8 };
  if (/^(m|min|-)(?!aj)/.test(body)) return { third: 3 };
  return { third: 4 };
}

function chordFinding(chord: SheetChord, notes: readonly SheetNote[]): Finding | undefined {
  const root = rootClass(chord.root);
  if (root === undefined || chord.symbol === "N.C.") return undefined;
  const classes = new Set(notes.map((n) => mod(n.midi - root, 12)));
  if (classes.size < 3) return undefined;
  const name = chord.symbol;
  const say = (message: string, level: Finding["level"] = "warning"): Finding => ({
    rule: "chord-contradicts",
    level,
    bar: chord.bar,
    message: `Bar ${chord.bar}: ${message}`,
    hint: "Change the chord name or the notes.",
  });
  const { third } = promisedTones(name);
  if (third !== undefined) {
    const other = third === 4 ? 3 : 4;
    // The blue third sounds beside the major one; only the other alone contradicts.
    if (!classes.has(third) && classes.has(other))
      return say(`${name} is written over its ${other === 3 ? "minor" : "major"} third.`, "error");
  }
  // The bass: the lowest note that begins with the chord, if any does.
  const bass = rootClass(chord.bass);
  const atStart = notes.filter(
    (n) => n.bar === chord.bar && Math.abs(n.tick - (chord.beat - 1) * TICKS_A_BEAT) < 1,
  );
  const lowest = Math.min(...atStart.map((n) => n.midi));
  const lowestOfAll = Math.min(...notes.map((n) => n.midi));
  if (bass !== undefined && atStart.length > 0 && lowest === lowestOfAll && mod(lowest, 12) !== bass) {
    if (!notes.some((n) => mod(n.midi, 12) === bass))
      return say(`${name} is written, and its bass ${chord.bass} does not sound below.`);
  }
  if (!classes.has(0) && third !== undefined && !classes.has(third))
    return say(`${name} is written, and neither its root nor its third sounds.`);
  return undefined;
}

/** Strings and frets that cannot sound the written pitch. When most of the notes are off by the same distance the tuning, the capo or
 * the octave is meant, and it is said once. */
function placeFindings(sheet: Sheet): Finding[] {
  const off = new Map<number, SheetNote[]>();
  for (const note of sheet.notes) {
    const open = sheet.openMidi[6 - note.string];
    if (open === undefined || note.marks.includes("dead") || note.marks.includes("harmonic")) continue;
    const distance = note.midi - (open + sheet.capo + note.fret);
    if (distance !== 0) off.set(distance, [...(off.get(distance) ?? []), note]);
  }
  const out: Finding[] = [];
  for (const [distance, notes] of off) {
    if (notes.length > 4 && notes.length > sheet.notes.length / 2) {
      out.push({
        rule: "place-cannot-sound",
        level: "warning",
        bar: 0,
        message: `${notes.length} of ${sheet.notes.length} notes are written ${Math.abs(distance)} semitones ${distance > 0 ? "above" : "below"} what their strings and frets sound.`,
        hint: "Check the tuning, the capo and the octave of the sheet.",
      });
      continue;
    }
    for (const note of notes)
      out.push({
        rule: "place-cannot-sound",
        level: "error",
        bar: note.bar,
        message: `Bar ${note.bar}: string ${note.string} fret ${note.fret} sounds ${noteInKey(note.midi - distance, sheet.mode)}, the sheet says ${noteInKey(note.midi, sheet.mode)}.`,
        hint: "Change the string, the fret or the tuning.",
      });
  }
  return out;
}

/** All findings of a sheet about itself. Chords run to the next chord. */
export function sheetRuleFindings(sheet: Sheet): Finding[] {
  const out: Finding[] = placeFindings(sheet);
  const barTicks = sheet.grid.meter.beats * TICKS_A_BEAT;
  const at = (x: { bar: number; tick: number }): number => x.bar * barTicks + x.tick;
  const chords = [...sheet.chords].sort((a, b) => a.bar - b.bar || a.beat - b.beat);
  chords.forEach((chord, i) => {
    const from = at({ bar: chord.bar, tick: (chord.beat - 1) * TICKS_A_BEAT });
    const next = chords[i + 1];
    const to = next ? at({ bar: next.bar, tick: (next.beat - 1) * TICKS_A_BEAT }) : Number.POSITIVE_INFINITY;
    const under = sheet.notes.filter(
      (n) => at(n) >= from - 0.5 && at(n) < to - 0.5 && !n.marks.includes("dead"),
    );
    const finding = chordFinding(chord, under);
    if (finding) out.push(finding);
  });
  const told = new Set<string>();
  for (const note of sheet.notes) {
    // The thumb may cross to string 3 or 2 in alternating basses; fingers may not go below the thumb's lowest strings.
    const struck = sheet.notes.filter((n) => n.bar === note.bar && n.tick === note.tick).length;
    const wrong =
      (note.finger === "p" && note.string <= 1 && struck < 4) || // a strum is the thumb's throughout
      (note.finger === "a" && note.string >= 5) ||
      ((note.finger === "i" || note.finger === "m") && note.string >= 6);
    const key = `${note.bar} ${note.finger} ${note.string}`;
    if (!wrong || told.has(key)) continue;
    told.add(key);
    out.push({
      rule: "letter-contradicts-string",
      level: "warning",
      bar: note.bar,
      message: `Bar ${note.bar}: the letter ${note.finger} stands at string ${note.string}.`,
      hint: "The thumb plays the basses, i, m and a the trebles: change the letter or the string.",
    });
  }
  const byMoment = new Map<string, SheetNote[]>();
  for (const note of sheet.notes) {
    if (note.finger === undefined) continue;
    const key = `${note.bar} ${note.tick}`;
    byMoment.set(key, [...(byMoment.get(key) ?? []), note]);
  }
  for (const notes of byMoment.values()) {
    if (notes.length < 2 || notes.length > 4) continue; // five and six strings are strummed
    const order = [...notes].sort((a, b) => b.string - a.string).map((n) => "pima".indexOf(n.finger ?? "p"));
    const crossed = order.some((finger, i) => i > 0 && finger < (order[i - 1] ?? 0));
    const bar = notes[0]?.bar ?? 0;
    if (!crossed || told.has(`${bar} crossed`)) continue;
    told.add(`${bar} crossed`);
    out.push({
      rule: "letters-crossed",
      level: "warning",
      bar,
      message: `Bar ${bar}: letters that sound together cross the strings.`,
      hint: "From low to high the hand is p, i, m, a.",
    });
  }
  return out.sort((a, b) => a.bar - b.bar || (a.rule < b.rule ? -1 : a.rule > b.rule ? 1 : 0));
}
