import type { Meter } from "../../../src/grid/grid.js";
import type { LeftFinger, PickFinger } from "../../../src/hands/fretted.js";
import type { ModeName } from "../../../src/harmony/harmony.js";
import type { TuningName } from "./grips.js";

/** A note as composed. bar from 1 (0 = pick-up), tick from 0 in the bar (24 a beat), frets from the capo, midi sounding.
 * lengthTicks as it is best written: to the next note of the string or the end of the bar, whichever is first.
 * @property rolled position within a chord struck from low to high (0 first), absent for a plain pinch */
export type StudyNote = {
  bar: number;
  tick: number;
  lengthTicks: number;
  string: number;
  fret: number;
  midi: number;
  finger: PickFinger;
  leftFinger: LeftFinger;
  rolled?: number;
};

/** A chord of the truth; `symbol`, `root`, `bass` sound (capo included), `shape` is the name of the grip. beat from 1. */
export type StudyChord = {
  bar: number;
  beat: number;
  beats: number;
  symbol: string;
  root: string;
  bass: string;
  shape: string;
};

/** Two modes that the notes leave open, and the degree, as it would be in `mode`, that never sounds. */
export type StudyUndecided = { between: [ModeName, ModeName]; missingDegree: string };

/** A composed study with everything that is true of it.
 * @property groupOfBar groupOfBar[bar − 1], equal numbers: exactly the same notes
 * @property kinOfBar the same, but a slip or a varied ending is allowed: compose.ts, sameMusic
 * @property pattern the picking row that most bars follow; `patternBars` those that follow it note for note
 * @property form sections in playing order */
export type Study = {
  name: string;
  title: string;
  tuning: TuningName;
  openMidi: readonly number[];
  capo: number;
  meter: Meter;
  tempoBpm: number;
  feel: "straight" | "swing";
  swingRatio: number;
  /** Beats before bar 1; their notes have bar 0 and ticks from the start of the pick-up. */
  pickupBeats: number;
  barCount: number;
  notes: StudyNote[];
  chords: StudyChord[];
  mode: { tonic: string; mode: ModeName; undecided: StudyUndecided[] };
  pattern: { name: string; beats: number; steps: string; stepTicks: number };
  patternBars: number[];
  form: { label: string; bars: number[] }[];
  groupOfBar: number[];
  kinOfBar: number[];
};

/** How a study is to be made. Chords: "A | G/A | D/A | A" a bar each, shapes without the capo.
 * @property form sections in order, such as "AABA" @property ending what the last bar of a section does
 * @property last how the study ends @property through no bar comes back: every bar is varied, by seed */
export type StudySpec = {
  name: string;
  title: string;
  tuning: TuningName;
  capo: number;
  tonic: string;
  mode: ModeName;
  pattern: string;
  sections: Record<string, string>;
  form: string;
  tempoBpm: number;
  feel?: "straight" | "swing";
  swingRatio?: number;
  pickupBeats?: number;
  ending?: "none" | "block" | "bass-run";
  last?: "pattern" | "rolled" | "strum";
  through?: boolean;
  seed?: number;
};
