/** Note names, pitch classes, the line of fifths, and hertz.
 * In and out: plain numbers and names spelled with "#" and "b". Method: arithmetic; a name is a place on the line of fifths. */
import { mod } from "../base/numbers.js";

/** Frequency of a MIDI note number (fractions allowed).
 * @param a4Hz hertz of A4 @returns Hz. Source: ISO 16:1975 (A4 = 440 Hz), twelve equal steps an octave. */
export const midiToHz = (midi: number, a4Hz = 440): number => a4Hz * 2 ** ((midi - 69) / 12);

/** MIDI note number of a frequency, with its fraction (0.01 = 1 cent). @param hz above 0 */
export const hzToMidi = (hz: number, a4Hz = 440): number => 69 + 12 * Math.log2(hz / a4Hz);

/** Semitones of the natural letters over C, and their places on the line of fifths (C = 0, G = 1, F = −1). */
const LETTERS = {
  C: { pc: 0, fifths: 0 },
  D: { pc: 2, fifths: 2 },
  E: { pc: 4, fifths: 4 },
  F: { pc: 5, fifths: -1 },
  G: { pc: 7, fifths: 1 },
  A: { pc: 9, fifths: 3 },
  B: { pc: 11, fifths: 5 },
} as const;
const LETTERS_BY_FIFTHS = ["F", "C", "G", "D", "A", "E", "B"] as const;

export type Spelling = "sharps" | "flats";
const SHARPS = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"] as const;
const FLATS = ["C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"] as const;
// What players write when no key is known: the commoner name of each black key. Common practice, no published source.
const COMMON = ["C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"] as const;

/** Name of a pitch class; without a spelling the commoner of the two names.
 * @param pc any whole number, taken modulo 12; 0 = C */
export function pitchClassName(pc: number, spelling?: Spelling): string {
  const names = spelling === "sharps" ? SHARPS : spelling === "flats" ? FLATS : COMMON;
  return names[mod(Math.round(pc), 12)] ?? "C";
}

/** Place of a spelled note on the line of fifths (C = 0, F# = 6, Bb = −2); undefined when the text is no note name. */
export function fifthsOfName(name: string): number | undefined {
  const match = /^([A-G])([#♯b♭]*)$/.exec(name);
  if (!match) return undefined;
  let fifths: number = LETTERS[match[1] as keyof typeof LETTERS].fifths;
  for (const sign of match[2] ?? "") fifths += sign === "#" || sign === "♯" ? 7 : -7;
  return fifths;
}

/** Spelled note of a place on the line of fifths. @param fifths whole number */
export function nameOfFifths(fifths: number): string {
  const letter = LETTERS_BY_FIFTHS[mod(fifths + 1, 7)] ?? "C";
  const signs = Math.floor((fifths + 1) / 7);
  return letter + (signs < 0 ? "b".repeat(-signs) : "#".repeat(signs));
}

/** Pitch class 0…11 of a spelled note; undefined when the text is no note name. */
export function pitchClassOf(name: string): number | undefined {
  const fifths = fifthsOfName(name);
  return fifths === undefined ? undefined : mod(fifths * 7, 12);
}

/** MIDI number of a note with its octave, such as "E2" (40) or "Bb3" (58); undefined when the text is none.
 * Source: scientific pitch notation, C4 = middle C = 60. */
export function parseNote(text: string): number | undefined {
  const match = /^([A-Ga-g])([#♯b♭]{0,2})(-?\d)$/.exec(text.trim());
  if (!match) return undefined;
  const letter = (match[1] ?? "C").toUpperCase() as keyof typeof LETTERS;
  let midi = LETTERS[letter].pc + 12 * (Number(match[3]) + 1);
  for (const sign of match[2] ?? "") midi += sign === "#" || sign === "♯" ? 1 : -1;
  return midi;
}

/** Note name with octave, such as "F#2". */
export const noteName = (midi: number, spelling?: Spelling): string =>
  `${pitchClassName(midi, spelling)}${Math.floor(Math.round(midi) / 12) - 1}`;
