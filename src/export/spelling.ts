/** Key signature of a mode and the spelling of a sounding pitch in it.
 * Method: the line of fifths (… F C G D A E B …); a key of k sharps spells its twelve notes from three fifths below its major tonic to eight above,
 * which in C gives E♭ B♭ F C G D A E B F♯ C♯ G♯. Source: common practice, no published source. */
import type { ModeName } from "../harmony/harmony.js";

/** A pitch as written: letter, alteration in semitones, octave (C4 = middle C = 60). */
export type WrittenPitch = { step: string; alter: number; octave: number };

const FIFTHS_LETTERS = ["F", "C", "G", "D", "A", "E", "B"] as const;
const LETTER_SEMITONES: Record<string, number> = { C: 0, D: 2, E: 4, F: 5, G: 7, A: 9, B: 11 };

/** Fifths between the tonic and the tonic of the major key with the same signature. */
const MODE_FIFTHS: Record<ModeName, number> = {
  ionian: 0,
  lydian: 1,
  mixolydian: -1,
  dorian: -2,
  aeolian: -3,
  phrygian: -4,
  locrian: -5,
  "harmonic minor": -3,
  "melodic minor": -3,
};

/** Place of a spelled note on the line of fifths, C = 0; undefined for a name that is none. */
export function fifthsOfName(name: string): number | undefined {
  const idx = FIFTHS_LETTERS.indexOf(name.charAt(0) as (typeof FIFTHS_LETTERS)[number]);
  if (idx < 0) return undefined;
  let fifths = idx - 1;
  for (const sign of name.slice(1)) {
    if (sign === "#" || sign === "♯") fifths += 7;
    else if (sign === "b" || sign === "♭") fifths -= 7;
    else return undefined;
  }
  return fifths;
}

/** Sharps (+) or flats (−) of the signature, −7…7; a remote tonic is respelled to stay in range. */
export function signatureFifths(tonic: string, mode: ModeName): number {
  let fifths = (fifthsOfName(tonic) ?? 0) + MODE_FIFTHS[mode];
  while (fifths > 7) fifths -= 12;
  while (fifths < -7) fifths += 12;
  return fifths;
}

/** Letter and alteration of a place on the line of fifths. */
export function nameOfFifths(fifths: number): { step: string; alter: number } {
  const idx = (((fifths + 1) % 7) + 7) % 7;
  return { step: FIFTHS_LETTERS[idx] ?? "C", alter: Math.floor((fifths + 1) / 7) };
}

/** Spells a MIDI number in a key of `keyFifths` sharps.
 * @param midi 0…127 */
export function spellPitch(midi: number, keyFifths: number): WrittenPitch {
  const pitchClass = ((midi % 12) + 12) % 12;
  const lowest = keyFifths - 3;
  // 7 fifths up = one semitone up, mod 12; so the place of a pitch class is 7·pc mod 12, moved into the window.
  const fifths = lowest + ((((pitchClass * 7 - lowest) % 12) + 12) % 12);
  const { step, alter } = nameOfFifths(fifths);
  const octave = Math.floor((midi - (LETTER_SEMITONES[step] ?? 0) - alter) / 12) - 1;
  return { step, alter, octave };
}

/** The signature of a key moved by semitones, nearest to none. */
export function shiftFifths(fifths: number, semitones: number): number {
  let moved = fifths + 7 * semitones;
  while (moved > 6) moved -= 12;
  while (moved < -6) moved += 12;
  return semitones === 0 ? fifths : moved;
}
