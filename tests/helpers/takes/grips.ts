import type { LeftFinger } from "../../../src/hands/fretted.js";
import { BARRE_SHAPES, DADGAD_GRIPS, DROP_D_GRIPS, type GripRow, STANDARD_GRIPS } from "./grip-table.js";

export type TuningName = "standard" | "drop-d" | "dadgad";

/** Open strings 6 → 1, MIDI numbers without the capo. Origin: the note names E2 A2 D3 G3 B3 E4, D2 …, D2 A2 D3 G3 A3 D4. */
export const OPEN_MIDI: Record<TuningName, readonly number[]> = {
  standard: [40, 45, 50, 55, 59, 64],
  "drop-d": [38, 45, 50, 55, 59, 64],
  dadgad: [38, 45, 50, 55, 57, 62],
};

/** One stopped or open string of a grip. */
export type GripString = { string: number; fret: number; leftFinger: LeftFinger };

/** A chord shape: `symbol`, `root` and `bass` are those of the shape, without the capo.
 * @property strings from 6 to 1, unplayed ones left out
 * @property bassString where the thumb finds the chord's bass, `otherBass` the string it alternates with */
export type Grip = {
  symbol: string;
  root: string;
  bass: string;
  strings: GripString[];
  bassString: number;
  otherBass: number;
};

const LETTER_PC: Record<string, number> = { C: 0, D: 2, E: 4, F: 5, G: 7, A: 9, B: 11 };
const SHARP_NAMES = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"] as const;
const FLAT_NAMES = ["C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"] as const;

/** Pitch class 0…11 (C = 0) of a spelled note such as "F#". */
export function pitchClassOf(name: string): number {
  const base = LETTER_PC[name.charAt(0)];
  if (base === undefined) throw new Error(`no note name: ${name}`);
  let pc = base;
  for (const sign of name.slice(1)) pc += sign === "#" ? 1 : sign === "b" ? -1 : 0;
  return ((pc % 12) + 12) % 12;
}

export const noteName = (pc: number, flats: boolean): string =>
  (flats ? FLAT_NAMES : SHARP_NAMES)[((pc % 12) + 12) % 12] as string;

/** "G/A" → root G, quality "", bass A; "Bm7" → B, "m7", B. */
export function readSymbol(symbol: string): { root: string; quality: string; bass: string } {
  const found = /^([A-G][#b]?)([^/]*)(?:\/([A-G][#b]?))?$/.exec(symbol);
  if (found === null) throw new Error(`no chord symbol: ${symbol}`);
  const root = found[1] as string;
  return { root, quality: found[2] ?? "", bass: found[3] ?? root };
}

/** The same chord `semitones` higher. */
export function transposeSymbol(symbol: string, semitones: number, flats: boolean): string {
  if (semitones % 12 === 0) return symbol;
  const { root, quality, bass } = readSymbol(symbol);
  const newRoot = noteName(pitchClassOf(root) + semitones, flats);
  if (bass === root) return newRoot + quality;
  return `${newRoot}${quality}/${noteName(pitchClassOf(bass) + semitones, flats)}`;
}

function fromFrets(
  symbol: string,
  frets: readonly (number | undefined)[],
  fingers: string,
  tuning: TuningName,
): Grip {
  const { root, bass } = readSymbol(symbol);
  const strings: GripString[] = [];
  frets.forEach((fret, idx) => {
    if (fret === undefined) return;
    const finger = fret === 0 ? 0 : Number(fingers.charAt(idx));
    strings.push({ string: 6 - idx, fret, leftFinger: finger as LeftFinger });
  });
  const midiOf = (s: GripString): number => (OPEN_MIDI[tuning][6 - s.string] as number) + s.fret;
  const low = strings.filter((s) => s.string >= 4);
  const bassString = low.find((s) => midiOf(s) % 12 === pitchClassOf(bass))?.string;
  if (bassString === undefined) throw new Error(`${symbol}: no bass ${bass} under the thumb`);
  const others = low.filter((s) => s.string !== bassString);
  // The thumb alternates 6-4, 5-4 and 4-5, the commonest way; 6-5 where the fourth string is silent.
  const otherBass = (others.find((s) => s.string === 4) ?? others.at(-1))?.string ?? bassString;
  return { symbol, root, bass, strings, bassString, otherBass };
}

const fretAt = (frets: string, idx: number): number | undefined =>
  frets.charAt(idx) === "x" ? undefined : Number(frets.charAt(idx));

function fromRow(row: GripRow, tuning: TuningName): Grip {
  return fromFrets(
    row.symbol,
    [0, 1, 2, 3, 4, 5].map((k) => fretAt(row.frets, k)),
    row.fingers,
    tuning,
  );
}

/** The barre grip of a symbol in standard tuning, on the lower of its two places; undefined when there is no such shape. */
function barreGrip(symbol: string): Grip | undefined {
  const { root, quality, bass } = readSymbol(symbol);
  if (bass !== root) return undefined;
  const choices = BARRE_SHAPES.filter((shape) => shape.quality === quality).map((shape) => {
    const openPc = shape.rootString === 6 ? 4 : 9; // E and A
    const barre = (pitchClassOf(root) - openPc + 12) % 12 || 12;
    return { shape, barre };
  });
  const best = choices.sort((a, b) => a.barre - b.barre || a.shape.rootString - b.shape.rootString)[0];
  if (best === undefined || best.barre > 9) return undefined;
  const frets = [0, 1, 2, 3, 4, 5].map((k) => {
    const fret = fretAt(best.shape.frets, k);
    return fret === undefined ? undefined : fret + best.barre;
  });
  return fromFrets(symbol, frets, best.shape.fingers, "standard");
}

const usesSixth = (row: GripRow): boolean => !row.frets.startsWith("x");

/** Rows that serve a tuning: drop D takes those of standard tuning that leave the sixth string alone. */
export function gripRows(tuning: TuningName): readonly GripRow[] {
  if (tuning === "standard") return STANDARD_GRIPS;
  if (tuning === "dadgad") return DADGAD_GRIPS;
  return [...DROP_D_GRIPS, ...STANDARD_GRIPS.filter((row) => !usesSixth(row))];
}

/** The grip of a chord symbol (of the shape, without the capo).
 * @throws Error when the tables know no such grip in that tuning */
export function gripOf(symbol: string, tuning: TuningName): Grip {
  const row = gripRows(tuning).find((candidate) => candidate.symbol === symbol);
  const grip =
    row === undefined ? (tuning === "standard" ? barreGrip(symbol) : undefined) : fromRow(row, tuning);
  if (grip === undefined) throw new Error(`no grip for ${symbol} in ${tuning}`);
  return grip;
}

export function hasGrip(symbol: string, tuning: TuningName): boolean {
  try {
    gripOf(symbol, tuning);
    return true;
  } catch {
    return false;
  }
}
