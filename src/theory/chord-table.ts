// Chord qualities that are named. Row: suffix as printed, semitones over the root, Harte's shorthand, how plain the name is
// (cost of choosing it, no unit: a triad is plainest; searched for chord recall on composed studies of seeds 100…155). Origin of intervals: tests/theory compares every row with tonal and chords-db;
// Harte shorthands: C. Harte 2010, "Towards automatic extraction of harmony information from music signals", section 4.5, from memory.
/** @property optional semitones that players leave out without changing the name @property family the triad mir_eval's majmin sees */
export type ChordRow = {
  suffix: string;
  steps: readonly number[];
  optional: readonly number[];
  harte: string;
  family: "maj" | "min" | "other";
  cost: number;
};

const row = (
  suffix: string,
  steps: number[],
  optional: number[],
  harte: string,
  family: ChordRow["family"],
  cost: number,
): ChordRow => ({ suffix, steps, optional, harte, family, cost });

export const CHORDS: readonly ChordRow[] = [
  row("", [0, 4, 7], [], "maj", "maj", 0),
  row("m", [0, 3, 7], [], "min", "min", 0),
  row("5", [0, 7], [], "5", "other", 0.1),
  row("7", [0, 4, 7, 10], [7], "7", "maj", 0.159),
  row("maj7", [0, 4, 7, 11], [7], "maj7", "maj", 0.12),
  row("m7", [0, 3, 7, 10], [7], "min7", "min", 0.1),
  row("mmaj7", [0, 3, 7, 11], [7], "minmaj7", "min", 1.26),
  row("sus4", [0, 5, 7], [], "sus4", "other", 0.2),
  row("sus2", [0, 2, 7], [], "sus2", "other", 0.235),
  row("7sus4", [0, 5, 7, 10], [7], "sus4(b7)", "other", 0.81),
  row("6", [0, 4, 7, 9], [], "maj6", "maj", 0.45),
  row("m6", [0, 3, 7, 9], [], "min6", "min", 0.45),
  row("add9", [0, 2, 4, 7], [7], "maj(9)", "maj", 0.121),
  row("madd9", [0, 2, 3, 7], [7], "min(9)", "min", 0.38),
  row("9", [0, 2, 4, 7, 10], [7], "9", "maj", 0.51),
  row("maj9", [0, 2, 4, 7, 11], [7], "maj9", "maj", 0.59),
  row("m9", [0, 2, 3, 7, 10], [7], "min9", "min", 0.43),
  row("69", [0, 2, 4, 7, 9], [7], "maj6(9)", "maj", 0.55),
  row("9sus4", [0, 2, 5, 7, 10], [7], "sus4(b7,9)", "other", 0.55),
  row("dim", [0, 3, 6], [], "dim", "other", 0.15),
  row("dim7", [0, 3, 6, 9], [], "dim7", "other", 0.25),
  row("m7b5", [0, 3, 6, 10], [], "hdim7", "other", 0.18),
  row("aug", [0, 4, 8], [], "aug", "other", 0.191),
  row("7#5", [0, 4, 8, 10], [], "aug(b7)", "other", 0.55),
  row("maj7#11", [0, 4, 6, 7, 11], [7], "maj7(#11)", "maj", 0.48),
  row("7b9", [0, 1, 4, 7, 10], [7], "7(b9)", "maj", 0.54),
];
