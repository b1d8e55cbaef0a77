/** What the server tells the page, and the page the server. Plain JSON; the page shows it and knows no music. */

import type { Finding } from "../../src/base/finding.js";
import type { DifferenceKind } from "../../src/check/report.js";
import type { LeftFinger, PickFinger, Place } from "../../src/hands/fretted.js";
import type { NoteMark } from "../../src/sheet/sheet.js";

/** A written note with where it stands in time. `id` is its place: it changes when the note moves. */
export type PageNote = {
  id: string;
  bar: number;
  tick: number;
  lengthTicks: number;
  string: number;
  fret: number;
  midi: number;
  pitch: string;
  beatText: string;
  finger?: PickFinger;
  leftFinger?: LeftFinger;
  marks: NoteMark[];
  by: "machine" | "hand";
  confidence: number;
  isUnsure: boolean;
  alternatives: Place[];
  startSec: number;
  endSec: number;
};

/** A bar in time. tickSec: seconds of its steps of 3 ticks, one more than the bar has, so that any tick can be placed between them. */
export type PageBar = { bar: number; ticks: number; startSec: number; endSec: number; tickSec: number[] };

export type PageChord = {
  bar: number;
  beat: number;
  symbol: string;
  alternatives: string[];
  confidence: number;
  by: "machine" | "hand";
  startSec: number;
};

type PageDifference = {
  kind: DifferenceKind;
  bar: number;
  text: string;
  string?: number;
  startSec?: number;
};

/** The check's word on the sheet of that version; `why` says why there is none. */
export type PageCheck =
  | { kind: "none"; why: string }
  | {
      kind: "done";
      version: string;
      verdicts: { bar: number; verdict: "same" | "differs" | "unsure" }[];
      differences: PageDifference[];
    };

/** A note as heard; `isDoubtful` where the listener itself did not pick it. */
export type HeardNote = {
  onsetSec: number;
  offsetSec: number;
  midi: number;
  confidence: number;
  isDoubtful: boolean;
};

export type PageSheet = {
  title: string;
  openMidi: number[];
  stringNames: string[];
  capo: number;
  tempoBpm: number;
  tempoFrom: "user" | "estimated";
  meter: { beats: number; unit: number };
  feel: "straight" | "swing";
  swingRatio: number;
  firstBeatSec: number;
  durationSec: number;
  modeText: string;
  hasRhythm: boolean;
  bars: PageBar[];
  notes: PageNote[];
  chords: PageChord[];
  groupOfBar: number[];
  findings: Finding[];
};

/** Where the recording stands: what there is to hear and to see. */
export type PageTake =
  | { kind: "none"; why: string }
  | {
      kind: "ready";
      fileName: string;
      isVideo: boolean;
      durationSec: number;
      /** The listener's work: under way, done, or why there is none. */
      listening: { kind: "working"; share: number } | { kind: "done" } | { kind: "none"; why: string };
    }
  | { kind: "opening" };

/** Siblings that could be mended alike. `bars` in order. */
export type SiblingOffer = { text: string; bars: number[] };

export type PageState = {
  version: string;
  sheet: PageSheet;
  check: PageCheck;
  take: PageTake;
  undo: string | null;
  redo: string | null;
  undoCount: number;
  redoCount: number;
  files: { text: string; json: string };
  /** A word for the user about what just happened beside their own mend. */
  notice: string | null;
  offer: SiblingOffer | null;
};

/** Pushed to every open page. */
export type PageEvent =
  | { kind: "changed"; version: string; why: string }
  | { kind: "check"; check: PageCheck; version: string }
  | { kind: "take"; take: PageTake }
  | { kind: "heard" }
  | { kind: "trouble"; message: string; hint: string };

/** Spectrum picture: rows of pitch from lowestMidi, rowsPerSemitone each; bytes column by column, 0…255 for −80…0 dB. */
export const PICTURE = {
  lowestMidi: 36, // a third under the low E, for dropped tunings
  highestMidi: 88, // the 24th fret of the high E
  rowsPerSemitone: 2,
  columnsPerSec: 50, // one every 20 ms: finer than a pluck's attack on the screen
  tileSec: 10,
  peaksPerSec: 100,
} as const;
