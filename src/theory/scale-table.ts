// Degrees of the modes: semitones over the tonic and the degree's name against the major scale; how far the parent major scale's
// tonic lies below (semitones); for the two minors the parent is the relative major, whose signature they are written in.
// Origin: common practice; tests/theory compares every row with @musodojo/music-theory-data and tonal.
/** Modes by the names that the JSON fixes. */
export type ModeName =
  | "ionian"
  | "dorian"
  | "phrygian"
  | "lydian"
  | "mixolydian"
  | "aeolian"
  | "locrian"
  | "harmonic minor"
  | "melodic minor";

/** @property degrees seven of [semitones, name] @property belowTonic semitones from the parent major tonic up to this tonic
 * @property decides degrees that part the mode from plain major or minor, most telling first */
export type ScaleRow = {
  mode: ModeName;
  degrees: readonly (readonly [semitones: number, degree: string])[];
  belowTonic: number;
  decides: readonly string[];
};

const row = (mode: ModeName, belowTonic: number, degrees: string, decides: string): ScaleRow => ({
  mode,
  belowTonic,
  degrees: degrees.split(" ").map((name) => [stepOfDegree(name), name] as const),
  decides: decides === "" ? [] : decides.split(" "),
});

const MAJOR_STEPS = [0, 2, 4, 5, 7, 9, 11] as const;

/** Semitones over the tonic of a degree such as "b7" (10) or "#4" (6). */
export function stepOfDegree(degree: string): number {
  const number = Number(degree.replace(/[^0-9]/g, ""));
  let step = MAJOR_STEPS[(number - 1) % 7] ?? 0;
  for (const sign of degree) step += sign === "#" ? 1 : sign === "b" ? -1 : 0;
  return step;
}

export const MODES: readonly ScaleRow[] = [
  row("ionian", 0, "1 2 3 4 5 6 7", ""),
  row("dorian", 2, "1 2 b3 4 5 6 b7", "6"),
  row("phrygian", 4, "1 b2 b3 4 5 b6 b7", "b2"),
  row("lydian", 5, "1 2 3 #4 5 6 7", "#4"),
  row("mixolydian", 7, "1 2 3 4 5 6 b7", "b7"),
  row("aeolian", 9, "1 2 b3 4 5 b6 b7", ""),
  row("locrian", 11, "1 b2 b3 4 b5 b6 b7", "b5 b2"),
  row("harmonic minor", 9, "1 2 b3 4 5 b6 7", "7"),
  row("melodic minor", 9, "1 2 b3 4 5 6 7", "7 6"),
];

/** Scales of fewer notes that are named for improvising. Origin: common practice, no published source. */
export const PENTATONICS = [
  { name: "major pentatonic", steps: [0, 2, 4, 7, 9] },
  { name: "minor pentatonic", steps: [0, 3, 5, 7, 10] },
  { name: "blues", steps: [0, 3, 5, 6, 7, 10] },
] as const;
