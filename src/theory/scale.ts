/** Modes on a tonic: spelling, degrees, parent scale. In: tonic and mode names. Out: spelled notes. Method: the line of fifths. */
import { mod } from "../base/numbers.js";
import { fifthsOfName, nameOfFifths, noteName, pitchClassOf } from "./pitch.js";
import { MODES, type ModeName, type ScaleRow } from "./scale-table.js";

/** The row of a mode. */
export function modeRow(mode: ModeName): ScaleRow {
  const found = MODES.find((r) => r.mode === mode);
  if (!found) throw new Error(`no row for mode ${mode}`);
  return found;
}

/** Semitones of the seven degrees over the tonic. */
export const modeSteps = (mode: ModeName): number[] => modeRow(mode).degrees.map(([step]) => step);

/** A mode whose third is minor. */
export const isMinorMode = (mode: ModeName): boolean => modeSteps(mode).includes(3);

/** Name of the degree at some semitones over the tonic in this mode ("b7"), or of the chromatic degree when outside it. */
function degreeAt(mode: ModeName, step: number): string {
  const found = modeRow(mode).degrees.find(([s]) => s === mod(step, 12));
  return found ? found[1] : chromaticDegree(step);
}

const CHROMATIC = ["1", "b2", "2", "b3", "3", "4", "#4", "5", "b6", "6", "b7", "7"] as const;

/** Degree name of a step 0…11 with no mode known. */
const chromaticDegree = (step: number): string => CHROMATIC[mod(step, 12)] ?? "1";

// Places on the line of fifths of the plain major degrees 1…7 over their tonic.
const DEGREE_FIFTHS = [0, 2, 4, -1, 1, 3, 5] as const;

/** Spelled note of a degree: the "b7" of A is G, the "#4" of F is B. */
export function degreeNote(tonic: string, degree: string): string {
  const number = Number(degree.replace(/[^0-9]/g, ""));
  let fifths = (fifthsOfName(tonic) ?? 0) + (DEGREE_FIFTHS[(number - 1) % 7] ?? 0);
  for (const sign of degree) fifths += sign === "#" ? 7 : sign === "b" ? -7 : 0;
  return nameOfFifths(fifths);
}

/** The seven notes of a mode, spelled: D dorian → D E F G A B C. */
export const scaleNotes = (tonic: string, mode: ModeName): string[] =>
  modeRow(mode).degrees.map(([, degree]) => degreeNote(tonic, degree));

/** Sharps (plus) or flats (minus) of the key signature a mode is written in. */
export function signatureFifths(tonic: string, mode: ModeName): number {
  const { belowTonic } = modeRow(mode);
  // 7 semitones a fifth: the parent lies so many fifths below as its step of the major scale does.
  const fifthsUp = { 0: 0, 2: 2, 4: 4, 5: -1, 7: 1, 9: 3, 11: 5 }[belowTonic] ?? 0;
  return (fifthsOfName(tonic) ?? 0) - fifthsUp;
}

/** White keys by their letter, black keys by either sign: nobody names a home Cb or E#. */
const TONIC_NAME = /^([A-G]|[CDFGA]#|[DEGAB]b)$/;

/** Name of a tonic's pitch class by the key signature of fewer signs; of two with six signs, F# and C# stay sharp, others go flat. */
export function spellTonic(pc: number, mode: ModeName): string {
  const names = [-7, -6, -5, -4, -3, -2, -1, 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10]
    .map(nameOfFifths)
    .filter((name) => TONIC_NAME.test(name) && pitchClassOf(name) === mod(pc, 12));
  const cost = (name: string): number => {
    const signs = signatureFifths(name, mode);
    return (
      Math.abs(signs) * 2 +
      (signs > 0 && name !== "F#" && name !== "C#" ? 1 : 0) +
      (signs < 0 && name.startsWith("G") ? 1 : 0)
    );
  };
  return names.reduce((best, name) => (cost(name) < cost(best) ? name : best));
}

/** Name of a pitch class within a key: a degree of the mode by its letter, other notes by the chromatic degree. */
export function spellInKey(pc: number, tonic: string, mode: ModeName): string {
  const step = mod(pc - (pitchClassOf(tonic) ?? 0), 12);
  const name = degreeNote(tonic, degreeAt(mode, step));
  // Double signs are not written for chords: fall back to the plain name on the same side.
  return name.length <= 2 ? name : nameOfFifths(simplerFifths(name));
}

function simplerFifths(name: string): number {
  const fifths = fifthsOfName(name) ?? 0;
  return fifths > 0 ? fifths - 12 : fifths + 12;
}

/** Name with octave of a pitch, spelled in a key where one is known: MIDI 68 is "G#4" in E major, "Ab4" in C minor.
 * Octaves are those of scientific pitch notation: C4 = middle C = 60, and Cb4 lies a semitone under it. */
export function noteInKey(midi: number, key: { tonic: string; mode: ModeName } | undefined): string {
  if (!key) return noteName(midi);
  const name = spellInKey(midi, key.tonic, key.mode);
  const signs = [...name.slice(1)].reduce((sum, sign) => sum + (sign === "#" ? 1 : -1), 0);
  return `${name}${Math.floor((Math.round(midi) - signs) / 12) - 1}`;
}

/** Major scale with the same notes, such as "D major" for A mixolydian; harmonic and melodic minor are their own parents. */
export function parentScale(tonic: string, mode: ModeName): string {
  if (mode === "harmonic minor" || mode === "melodic minor") return `${tonic} ${mode}`;
  return `${nameOfFifths(signatureFifths(tonic, mode))} major`;
}

/** Degrees of `mode` that differ from plain major or minor (by its third), as ["b7", "7"]: what it has, what the plain scale has. */
export function differsFromPlain(mode: ModeName): [own: string, plain: string][] {
  const plain = modeRow(isMinorMode(mode) ? "aeolian" : "ionian").degrees;
  return modeRow(mode).degrees.flatMap(([step, degree], k) => {
    const other = plain[k];
    return other && other[0] !== step ? [[degree, other[1]] as [string, string]] : [];
  });
}

/** All twelve pitch classes of a mode on a tonic's pitch class, true where the mode has it; shape (12). */
export function modeMask(tonicPc: number, mode: ModeName): boolean[] {
  const steps = new Set(modeSteps(mode));
  return Array.from({ length: 12 }, (_, pc) => steps.has(mod(pc - tonicPc, 12)));
}
