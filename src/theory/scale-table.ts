/** Modes and scales as semitones above the tonic, with the degree names of common practice (♭ written b).
 * Origin: any handbook of theory; tests compare each row with tonal and @musodojo/music-theory-data.
 * `parentSteps`: semitones from the tonic up to the tonic of the parent major scale; absent for the two minors that have none. */
export type ScaleRow = {
  readonly name: string;
  readonly degrees: readonly number[];
  readonly degreeNames: readonly string[];
  readonly parentSteps?: number;
};

export const MODES = [
  {
    name: "ionian",
    degrees: [0, 2, 4, 5, 7, 9, 11],
    degreeNames: ["1", "2", "3", "4", "5", "6", "7"],
    parentSteps: 0,
  },
  {
    name: "dorian",
    degrees: [0, 2, 3, 5, 7, 9, 10],
    degreeNames: ["1", "2", "b3", "4", "5", "6", "b7"],
    parentSteps: 10,
  },
  {
    name: "phrygian",
    degrees: [0, 1, 3, 5, 7, 8, 10],
    degreeNames: ["1", "b2", "b3", "4", "5", "b6", "b7"],
    parentSteps: 8,
  },
  {
    name: "lydian",
    degrees: [0, 2, 4, 6, 7, 9, 11],
    degreeNames: ["1", "2", "3", "#4", "5", "6", "7"],
    parentSteps: 7,
  },
  {
    name: "mixolydian",
    degrees: [0, 2, 4, 5, 7, 9, 10],
    degreeNames: ["1", "2", "3", "4", "5", "6", "b7"],
    parentSteps: 5,
  },
  {
    name: "aeolian",
    degrees: [0, 2, 3, 5, 7, 8, 10],
    degreeNames: ["1", "2", "b3", "4", "5", "b6", "b7"],
    parentSteps: 3,
  },
  {
    name: "locrian",
    degrees: [0, 1, 3, 5, 6, 8, 10],
    degreeNames: ["1", "b2", "b3", "4", "b5", "b6", "b7"],
    parentSteps: 1,
  },
  {
    name: "harmonic minor",
    degrees: [0, 2, 3, 5, 7, 8, 11],
    degreeNames: ["1", "2", "b3", "4", "5", "b6", "7"],
  },
  {
    name: "melodic minor",
    degrees: [0, 2, 3, 5, 7, 9, 11],
    degreeNames: ["1", "2", "b3", "4", "5", "6", "7"],
  },
] as const satisfies readonly ScaleRow[];

export const IMPROVISING_SCALES = [
  { name: "major pentatonic", degrees: [0, 2, 4, 7, 9], degreeNames: ["1", "2", "3", "5", "6"] },
  { name: "minor pentatonic", degrees: [0, 3, 5, 7, 10], degreeNames: ["1", "b3", "4", "5", "b7"] },
  { name: "blues", degrees: [0, 3, 5, 6, 7, 10], degreeNames: ["1", "b3", "4", "b5", "5", "b7"] },
] as const satisfies readonly ScaleRow[];
