import type { ModeName } from "../harmony/harmony.js";

/** Every mode name of the JSON, in the order of the contract. */
export const MODE_NAMES: readonly ModeName[] = [
  "ionian",
  "dorian",
  "phrygian",
  "lydian",
  "mixolydian",
  "aeolian",
  "locrian",
  "harmonic minor",
  "melodic minor",
];
