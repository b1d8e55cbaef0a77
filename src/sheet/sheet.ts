import type { Finding } from "../base/finding.js";
import type { GridReading, Meter } from "../grid/grid.js";
import type { LeftFinger, PickFinger, Place } from "../hands/fretted.js";
import type { ChordSpan, ModeGuess } from "../harmony/harmony.js";

/** A mark of the trade on a note. "tie": continues the same string and fret from the note before without a new pluck. */
export type NoteMark =
  | "hammer-on"
  | "pull-off"
  | "slide"
  | "grace"
  | "tie"
  | "let-ring"
  | "dead"
  | "harmonic";

/** A written note. Place (bar, tick, lengthTicks, string, fret) is the music; the rest is evidence and layout.
 * bar from 1 (0 = pick-up), tick from 0 within the bar at 24 a beat, frets from the capo, midi sounding. */
export type SheetNote = {
  bar: number;
  tick: number;
  lengthTicks: number;
  string: number;
  fret: number;
  midi: number;
  finger?: PickFinger;
  leftFinger?: LeftFinger;
  marks: NoteMark[];
  by: "machine" | "hand";
  /** Probability that the written note (pitch, place) is right; 1 when written by hand. */
  confidence: number;
  alternatives: Place[];
  onsetSec?: number;
  offsetSec?: number;
  velocity?: number;
};

/** `beatSec` as in Grid, [] for a sheet that has no recording. */
export type SheetGrid = {
  tempoBpm: number;
  tempoFrom: "user" | "estimated";
  meter: Meter;
  feel: "straight" | "swing";
  swingRatio: number;
  beatSec: number[];
  firstBeatSec: number;
  barCount: number;
  pickupBeats: number;
  countInBeats: number;
  confidence: number;
  readings: GridReading[];
};

/** A chord as written; times are there when a recording is. `by` as for notes. */
export type SheetChord = Omit<ChordSpan, "startSec" | "endSec"> & {
  startSec?: number;
  endSec?: number;
  by: "machine" | "hand";
};

export type PatternHit = { beat: number; finger: PickFinger; string: number };
/** How a bar departs from the pattern: hits it lacks and hits it adds. */
export type Departure = { bar: number; missing: PatternHit[]; added: PatternHit[]; note: string };
/** The picking pattern that the study is built on, `beats` long (a bar or half a bar), and the bars that follow it. */
export type Pattern = { beats: number; hits: PatternHit[]; bars: number[]; departures: Departure[] };

/** A section as a teacher would name it. The same label = the same music (a varied ending allowed). */
export type FormPart = { label: string; bars: number[] };
/** Written repeats: play `fromBar`…`toBar` `times` times, with the endings' bars if they differ. */
export type Repeat = {
  fromBar: number;
  toBar: number;
  times: number;
  endings: { times: number[]; bars: number[] }[];
};

export type SheetTake = { file: string; durationSec: number; sampleRateHz: number; tuningCents: number };

/** The sheet: plain data, the same in memory, in JSON and between the stages. JSON names are those of the contract; `src/sheet/json.ts` writes and reads them. */
export type Sheet = {
  title: string;
  composer: string;
  tuningName: string;
  openMidi: number[]; // strings 6 → 1, without the capo
  capo: number;
  take?: SheetTake;
  grid: SheetGrid;
  notes: SheetNote[]; // by bar, tick, string from 6 to 1
  chords: SheetChord[];
  mode?: ModeGuess;
  pattern?: Pattern;
  form: FormPart[];
  repeats: Repeat[];
  /** Groups of bars that are the same music, groupOfBar[bar − 1]; [] when not known. */
  groupOfBar: number[];
  findings: Finding[];
  /** "none": the tab says only the order of the notes; their ticks are a guess from the spacing. */
  rhythm?: "none";
  /** Notes that a hand took out; a later run must not bring them back. By bar, tick and midi. */
  removed?: RemovedNote[];
  /** Chords that a hand took out, likewise. */
  removedChords?: { bar: number; beat: number }[];
  /** What a hand has set besides notes and chords; a later run keeps it. */
  handSet?: HandSet[];
  /** The text sheet shows the left-hand fingers. */
  showLeftHand?: boolean;
  /** Free lines of the header of the text sheet. */
  remarks?: string[];
};

/** Parts of a sheet that are kept whole once a hand has set them. */
export type HandSet = "title" | "composer" | "grid" | "mode" | "form" | "repeats";

/** A note that a hand took out of the draft. */
export type RemovedNote = { bar: number; tick: number; midi: number };

/** Notes and chords under this confidence are marked as unsure in the text sheet and on the page: wrong more than once in seven times. */
export const UNSURE_BELOW = 0.85;
