import type { ModeName } from "../harmony/harmony.js";

/** Degrees of each mode in semitones over the tonic with the name of the degree, and the one that parts it from its nearest neighbour.
 * Row: mode, [semitones, degree] × 7, index of the deciding degree, the neighbour. Origin: common practice, no published source. */
export type ModeRow = {
  mode: ModeName;
  degrees: readonly (readonly [semitones: number, degree: string])[];
  decidingIdx: number;
  neighbour: ModeName;
};

export const MODE_DEGREES: readonly ModeRow[] = [
  {
    mode: "ionian",
    degrees: [
      [0, "1"],
      [2, "2"],
      [4, "3"],
      [5, "4"],
      [7, "5"],
      [9, "6"],
      [11, "7"],
    ],
    decidingIdx: 6,
    neighbour: "mixolydian",
  },
  {
    mode: "dorian",
    degrees: [
      [0, "1"],
      [2, "2"],
      [3, "b3"],
      [5, "4"],
      [7, "5"],
      [9, "6"],
      [10, "b7"],
    ],
    decidingIdx: 5,
    neighbour: "aeolian",
  },
  {
    mode: "phrygian",
    degrees: [
      [0, "1"],
      [1, "b2"],
      [3, "b3"],
      [5, "4"],
      [7, "5"],
      [8, "b6"],
      [10, "b7"],
    ],
    decidingIdx: 1,
    neighbour: "aeolian",
  },
  {
    mode: "lydian",
    degrees: [
      [0, "1"],
      [2, "2"],
      [4, "3"],
      [6, "#4"],
      [7, "5"],
      [9, "6"],
      [11, "7"],
    ],
    decidingIdx: 3,
    neighbour: "ionian",
  },
  {
    mode: "mixolydian",
    degrees: [
      [0, "1"],
      [2, "2"],
      [4, "3"],
      [5, "4"],
      [7, "5"],
      [9, "6"],
      [10, "b7"],
    ],
    decidingIdx: 6,
    neighbour: "ionian",
  },
  {
    mode: "aeolian",
    degrees: [
      [0, "1"],
      [2, "2"],
      [3, "b3"],
      [5, "4"],
      [7, "5"],
      [8, "b6"],
      [10, "b7"],
    ],
    decidingIdx: 5,
    neighbour: "dorian",
  },
  {
    mode: "locrian",
    degrees: [
      [0, "1"],
      [1, "b2"],
      [3, "b3"],
      [5, "4"],
      [6, "b5"],
      [8, "b6"],
      [10, "b7"],
    ],
    decidingIdx: 4,
    neighbour: "phrygian",
  },
  {
    mode: "harmonic minor",
    degrees: [
      [0, "1"],
      [2, "2"],
      [3, "b3"],
      [5, "4"],
      [7, "5"],
      [8, "b6"],
      [11, "7"],
    ],
    decidingIdx: 6,
    neighbour: "aeolian",
  },
  {
    mode: "melodic minor",
    degrees: [
      [0, "1"],
      [2, "2"],
      [3, "b3"],
      [5, "4"],
      [7, "5"],
      [9, "6"],
      [11, "7"],
    ],
    decidingIdx: 6,
    neighbour: "dorian",
  },
];

/** The row of a mode. */
export function modeRow(mode: ModeName): ModeRow {
  const row = MODE_DEGREES.find((r) => r.mode === mode);
  if (!row) throw new Error(`no row for mode ${mode}`);
  return row;
}
