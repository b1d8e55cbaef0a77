import type { ModeName } from "../../../src/harmony/harmony.js";

/** Chord plans of backing tracks, a chord a bar: semitones over the tonic and quality ("10" major on the lowered seventh, "0m7").
 * A second number after "/" is the bass. Composed for this project. `open` leaves the deciding degree out on purpose. */
export type PlanRow = { mode: ModeName; bars: string; open?: true };

export const PLANS: readonly PlanRow[] = [
  { mode: "ionian", bars: "0 9m 5 7" },
  { mode: "ionian", bars: "0 7/11 9m 5 0/4 5 7 0" },
  { mode: "ionian", bars: "2m7 7dom 0maj7 0maj7" },
  { mode: "ionian", bars: "0 0 5 0 7 5 0 7" },
  { mode: "dorian", bars: "0m7 5dom" },
  { mode: "dorian", bars: "0m 10 5 0m" },
  { mode: "dorian", bars: "0m 2m 3 5" },
  { mode: "dorian", bars: "0m7 0m7 5/0 10/0" },
  { mode: "phrygian", bars: "0m 1 0m 10m" },
  { mode: "phrygian", bars: "0m 1/0 3 1" },
  { mode: "phrygian", bars: "0m 0m 1maj7 0m" },
  { mode: "lydian", bars: "0 2" },
  { mode: "lydian", bars: "0maj7 2/0 7 0" },
  { mode: "lydian", bars: "0 2 4m 0 7 2 11m 0" },
  { mode: "mixolydian", bars: "0 10 5 0" },
  { mode: "mixolydian", bars: "0dom 7m 10 5" },
  { mode: "mixolydian", bars: "0 10/0 5/0 0" },
  { mode: "mixolydian", bars: "0 0 10 5" },
  { mode: "aeolian", bars: "0m 8 10 0m" },
  { mode: "aeolian", bars: "0m 5m 7m 0m 8 3 10 0m" },
  { mode: "aeolian", bars: "0m7 8maj7 5m7 10" },
  { mode: "aeolian", bars: "0m 10 8 10" },
  { mode: "locrian", bars: "0dim 1 0hdim 10m" },
  { mode: "locrian", bars: "0hdim 3m 0hdim 6" },
  { mode: "harmonic minor", bars: "0m 5m 7dom 0m" },
  { mode: "harmonic minor", bars: "0m 8 5m 7dom" },
  { mode: "harmonic minor", bars: "0m 2dim 7 0m 8 5m 7dom 0m" },
  { mode: "melodic minor", bars: "0m 5dom 7dom 0m" },
  { mode: "ionian", bars: "0 5 0 9m", open: true },
  { mode: "mixolydian", bars: "0 5 0 2m", open: true },
  { mode: "aeolian", bars: "0m 7m 10 0m", open: true },
  { mode: "dorian", bars: "0m 7m 0m 10", open: true },
];
