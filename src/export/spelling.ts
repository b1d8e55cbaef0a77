/** Key signature of a mode and the spelling of a sounding pitch in it.
 * Method: the line of fifths (… F C G D A E B …); a key of k sharps spells its twelve notes from three fifths below its major tonic to eight above,
 * which in C gives E♭ B♭ F C G D A E B F♯ C♯ G♯. Source: common practice, no published source. */
import { mod } from "../base/numbers.js";
import type { ModeName } from "../harmony/harmony.js";
import { nameOfFifths, pitchClassOf } from "../theory/pitch.js";
import { signatureFifths as fifthsOfKey } from "../theory/scale.js";

/** A pitch as written: letter, alteration in semitones, octave (C4 = middle C = 60). */
export type WrittenPitch = { step: string; alter: number; octave: number };

/** Sharps (+) or flats (−) of the signature, −7…7; a remote tonic is respelled to stay in range. */
export function signatureFifths(tonic: string, mode: ModeName): number {
  let fifths = fifthsOfKey(tonic, mode);
  while (fifths > 7) fifths -= 12;
  while (fifths < -7) fifths += 12;
  return fifths;
}

/** Spells a MIDI number in a key of `keyFifths` sharps.
 * @param midi 0…127 */
export function spellPitch(midi: number, keyFifths: number): WrittenPitch {
  const lowest = keyFifths - 3;
  // 7 fifths up = one semitone up, mod 12; so the place of a pitch class is 7·pc mod 12, moved into the window.
  const name = nameOfFifths(lowest + mod(midi * 7 - lowest, 12));
  const step = name.charAt(0);
  const alter = [...name.slice(1)].reduce((sum, sign) => sum + (sign === "#" ? 1 : -1), 0);
  const octave = Math.floor((midi - (pitchClassOf(step) ?? 0) - alter) / 12) - 1;
  return { step, alter, octave };
}

/** The signature of a key moved by semitones, nearest to none. */
export function shiftFifths(fifths: number, semitones: number): number {
  let moved = fifths + 7 * semitones;
  while (moved > 6) moved -= 12;
  while (moved < -6) moved += 12;
  return semitones === 0 ? fifths : moved;
}
