/** Chord qualities: symbol suffix, degrees above the root in semitones, Harte's shorthand, how readily a player would name it.
 * Origin: spellings as in tonal and Harte et al. 2005 (ISMIR), which tests compare row by row; `weight` (0…1, higher is
 * named more readily) is our own, tuned on composed studies: plain triads first, sevenths next, the rest when they must. */
export type ChordQuality = {
  readonly suffix: string;
  readonly degrees: readonly number[];
  readonly harte: string;
  readonly weight: number;
};

export const CHORD_QUALITIES = [
  { suffix: "", degrees: [0, 4, 7], harte: "maj", weight: 1 },
  { suffix: "m", degrees: [0, 3, 7], harte: "min", weight: 1 },
  { suffix: "7", degrees: [0, 4, 7, 10], harte: "7", weight: 0.9 },
  { suffix: "maj7", degrees: [0, 4, 7, 11], harte: "maj7", weight: 0.88 },
  { suffix: "m7", degrees: [0, 3, 7, 10], harte: "min7", weight: 0.9 },
  { suffix: "sus4", degrees: [0, 5, 7], harte: "sus4", weight: 0.72 },
  { suffix: "sus2", degrees: [0, 2, 7], harte: "sus2", weight: 0.7 },
  { suffix: "add9", degrees: [0, 2, 4, 7], harte: "maj(9)", weight: 0.74 },
  { suffix: "m(add9)", degrees: [0, 2, 3, 7], harte: "min(9)", weight: 0.7 },
  { suffix: "6", degrees: [0, 4, 7, 9], harte: "maj6", weight: 0.66 },
  { suffix: "m6", degrees: [0, 3, 7, 9], harte: "min6", weight: 0.66 },
  { suffix: "9", degrees: [0, 2, 4, 7, 10], harte: "9", weight: 0.7 },
  { suffix: "maj9", degrees: [0, 2, 4, 7, 11], harte: "maj9", weight: 0.68 },
  { suffix: "m9", degrees: [0, 2, 3, 7, 10], harte: "min9", weight: 0.68 },
  { suffix: "7sus4", degrees: [0, 5, 7, 10], harte: "sus4(b7)", weight: 0.66 },
  { suffix: "dim", degrees: [0, 3, 6], harte: "dim", weight: 0.72 },
  { suffix: "dim7", degrees: [0, 3, 6, 9], harte: "dim7", weight: 0.66 },
  { suffix: "m7b5", degrees: [0, 3, 6, 10], harte: "hdim7", weight: 0.7 },
  { suffix: "aug", degrees: [0, 4, 8], harte: "aug", weight: 0.6 },
  { suffix: "mMaj7", degrees: [0, 3, 7, 11], harte: "minmaj7", weight: 0.56 },
  { suffix: "5", degrees: [0, 7], harte: "maj(*3)", weight: 0.6 },
] as const satisfies readonly ChordQuality[];
