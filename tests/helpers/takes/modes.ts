import type { ModeName } from "../../../src/harmony/harmony.js";
import { pitchClassOf } from "./grips.js";
import type { StudyUndecided } from "./study.js";

/** Semitones of each mode above its tonic. Source: common practice; tests compare them with @musodojo/music-theory-data. */
export const MODE_STEPS: Record<ModeName, readonly number[]> = {
  ionian: [0, 2, 4, 5, 7, 9, 11],
  dorian: [0, 2, 3, 5, 7, 9, 10],
  phrygian: [0, 1, 3, 5, 7, 8, 10],
  lydian: [0, 2, 4, 6, 7, 9, 11],
  mixolydian: [0, 2, 4, 5, 7, 9, 10],
  aeolian: [0, 2, 3, 5, 7, 8, 10],
  locrian: [0, 1, 3, 5, 6, 8, 10],
  "harmonic minor": [0, 2, 3, 5, 7, 8, 11],
  "melodic minor": [0, 2, 3, 5, 7, 9, 11],
};

const DEGREE_OF_STEP = ["1", "b2", "2", "b3", "3", "4", "#4", "5", "b6", "6", "b7", "7"] as const;

/** Does a mode spell its notes with flats? By the key signature of its parent major scale. */
export function usesFlats(tonic: string, mode: ModeName): boolean {
  const belowTonic: Record<ModeName, number> = {
    ionian: 0,
    dorian: 2,
    phrygian: 4,
    lydian: 5,
    mixolydian: 7,
    aeolian: 9,
    locrian: 11,
    "harmonic minor": 9,
    "melodic minor": 9,
  };
  const parent = (pitchClassOf(tonic) - belowTonic[mode] + 12) % 12;
  return [5, 10, 3, 8, 1].includes(parent);
}

/** Modes that differ from `mode` in exactly one degree which never sounds, in either form.
 * @param sounded pitch classes (0…11) that sound anywhere */
export function undecidedPairs(
  tonic: string,
  mode: ModeName,
  sounded: ReadonlySet<number>,
): StudyUndecided[] {
  const home = pitchClassOf(tonic);
  const own = MODE_STEPS[mode];
  const pairs: StudyUndecided[] = [];
  for (const [other, steps] of Object.entries(MODE_STEPS) as [ModeName, readonly number[]][]) {
    const differing = own
      .map((step, idx) => [step, steps[idx] as number] as const)
      .filter(([a, b]) => a !== b);
    if (differing.length !== 1) continue;
    const [mine, theirs] = differing[0] as readonly [number, number];
    if (sounded.has((home + mine) % 12) || sounded.has((home + theirs) % 12)) continue;
    pairs.push({ between: [mode, other], missingDegree: DEGREE_OF_STEP[mine] as string });
  }
  return pairs;
}
