/** Pitch: MIDI numbers, frequencies, pitch classes and their names. Pure arithmetic; A4 = MIDI 69 = 440 Hz (ISO 16:1975). */
import { mod } from "../base/numbers.js";

/** Frequency of a MIDI number, fractions allowed. 440 Hz · 2^((midi − 69) semitones ÷ 12 semitones/octave). */
export const midiToHz = (midi: number, a4Hz = 440): number => a4Hz * 2 ** ((midi - 69) / 12);

/** MIDI number, with its fraction, of a frequency > 0 Hz. */
export const hzToMidi = (freqHz: number, a4Hz = 440): number => 69 + 12 * Math.log2(freqHz / a4Hz);

/** Pitch class 0…11 (C = 0) of a MIDI number. */
export const pitchClass = (midi: number): number => mod(Math.round(midi), 12);

export const SHARP_NAMES = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"] as const;
export const FLAT_NAMES = ["C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"] as const;

/** Name of a pitch class. @param isFlat flats rather than sharps for the black keys */
export const pitchClassName = (pc: number, isFlat = false): string =>
  (isFlat ? FLAT_NAMES : SHARP_NAMES)[mod(pc, 12)] ?? "C";

const LETTER_PC: Readonly<Record<string, number>> = { C: 0, D: 2, E: 4, F: 5, G: 7, A: 9, B: 11 };

/** Pitch class of a name such as `F#`, `Bb`, `E♭`, `Cbb`; undefined when it is none. */
export function pitchClassOf(name: string): number | undefined {
  const match = /^([A-Ga-g])([#b♯♭x]*)$/.exec(name.trim());
  if (!match) return undefined;
  let pc = LETTER_PC[(match[1] ?? "").toUpperCase()] ?? 0;
  for (const sign of match[2] ?? "") pc += sign === "x" ? 2 : sign === "#" || sign === "♯" ? 1 : -1;
  return mod(pc, 12);
}

/** MIDI number of a scientific pitch name, `E2` = 40, middle C = `C4` = 60; undefined when it is none. */
export function midiOfName(name: string): number | undefined {
  const match = /^([A-Ga-g])([#b♯♭]{0,2})(-?\d)$/.exec(name.trim());
  if (!match) return undefined;
  let midi = (LETTER_PC[(match[1] ?? "").toUpperCase()] ?? 0) + 12 * (Number(match[3]) + 1);
  for (const sign of match[2] ?? "") midi += sign === "#" || sign === "♯" ? 1 : -1;
  return midi >= 0 && midi <= 127 ? midi : undefined;
}

/** Scientific name of a MIDI number: 40 is `E2`. */
export const midiName = (midi: number, isFlat = false): string =>
  `${pitchClassName(midi, isFlat)}${Math.floor(midi / 12) - 1}`;

/** Distance of a fret from the nut in mm: scale · (1 − 2^(−fret/12)), the rule that is also told as
 * "divide what is left by 17.817" (1 / (1 − 2^(−1/12)) = 17.817). */
export const fretDistanceMm = (fret: number, scaleLengthMm: number): number =>
  scaleLengthMm * (1 - 2 ** (-fret / 12));
