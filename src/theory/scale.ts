/** Spelling by key: which letter a pitch class has in a mode, the parent scale, and how a tonic is named. */
import { mod } from "../base/numbers.js";
import { FLAT_NAMES, pitchClassName, pitchClassOf, SHARP_NAMES } from "./pitch.js";
import { MODES, type ScaleRow } from "./scale-table.js";

/** The row of a mode. @throws Error for a name that is not in the table: a bug of ours */
export function modeRow(name: string): ScaleRow {
  const row: ScaleRow | undefined = MODES.find((m) => m.name === name);
  if (!row) throw new Error(`no mode ${name}`);
  return row;
}

/** Major keys by tonic pitch class and their usual count of sharps (+) or flats (−): the circle of fifths. */
const SHARPS_OF_MAJOR = [0, -5, 2, -3, 4, -1, 6, 1, -4, 3, -2, 5] as const;

/** Sharps (+) or flats (−) in the signature of a mode; the minors take their aeolian's. */
export function signatureOf(tonicPc: number, mode: string): number {
  const row = modeRow(mode);
  const steps = row.parentSteps ?? 3;
  return SHARPS_OF_MAJOR[mod(tonicPc + steps, 12)] ?? 0;
}

/** How the tonic of a mode is spelled: `Eb` in Eb dorian, `C#` in C# aeolian. */
export const tonicName = (tonicPc: number, mode: string): string =>
  (signatureOf(tonicPc, mode) < 0 ? FLAT_NAMES : SHARP_NAMES)[mod(tonicPc, 12)] ?? "C";

const LETTERS = ["C", "D", "E", "F", "G", "A", "B"] as const;

/** The seven notes of a mode, each letter once: D dorian is D E F G A B C. */
export function spellMode(tonic: string, mode: string): string[] {
  const tonicPc = pitchClassOf(tonic) ?? 0;
  const firstLetter = LETTERS.indexOf((tonic[0] ?? "C") as (typeof LETTERS)[number]);
  return modeRow(mode).degrees.map((degree, k) => {
    const letter = LETTERS[(firstLetter + k) % 7] ?? "C";
    const off = mod(tonicPc + degree - (pitchClassOf(letter) ?? 0) + 6, 12) - 6;
    return letter + (off >= 0 ? "#".repeat(off) : "b".repeat(-off));
  });
}

/** A speller for a key: scale notes as the scale spells them, others by the signature's side.
 * Double signs never come out: a chord name with them helps nobody (common practice on guitar). */
export function spellerOf(tonic: string, mode: string): (pc: number) => string {
  const byPc = new Map(spellMode(tonic, mode).map((name) => [pitchClassOf(name) ?? 0, name]));
  const tonicPc = pitchClassOf(tonic) ?? 0;
  const isFlat = signatureOf(tonicPc, mode) < 0 || (signatureOf(tonicPc, mode) === 0 && mode !== "ionian");
  return (pc) => {
    const name = byPc.get(mod(pc, 12));
    return name !== undefined && name.length <= 2 ? name : pitchClassName(pc, isFlat);
  };
}

/** The parent scale: `D major` for A mixolydian; the mode itself for the two minors without one. */
export function parentScaleName(tonic: string, mode: string): string {
  const row = modeRow(mode);
  if (row.parentSteps === undefined) return `${tonic} ${mode}`;
  const pc = mod((pitchClassOf(tonic) ?? 0) + row.parentSteps, 12);
  const parent = spellMode(tonic, mode).find((name) => pitchClassOf(name) === pc) ?? pitchClassName(pc);
  return `${parent} major`;
}
