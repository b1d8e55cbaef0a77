import type { ModeName } from "../harmony/harmony.js";

/** The degree, 1…7, that parts each mode from its nearest neighbour. Origin: common practice, no published source. */
export const MODE_RIVALS: Readonly<Record<ModeName, { degree: number; neighbour: ModeName }>> = {
  ionian: { degree: 7, neighbour: "mixolydian" },
  dorian: { degree: 6, neighbour: "aeolian" },
  phrygian: { degree: 2, neighbour: "aeolian" },
  lydian: { degree: 4, neighbour: "ionian" },
  mixolydian: { degree: 7, neighbour: "ionian" },
  aeolian: { degree: 6, neighbour: "dorian" },
  locrian: { degree: 5, neighbour: "phrygian" },
  "harmonic minor": { degree: 7, neighbour: "aeolian" },
  "melodic minor": { degree: 7, neighbour: "dorian" },
};
