import type { Finding } from "../base/finding.js";

export type DifferenceKind = "missing" | "extra" | "wrong-pitch" | "early" | "late";

/** One difference between what is written and what was played. Missing values are absent, never NaN. offMs: played minus expected. */
export type Difference = {
  kind: DifferenceKind;
  bar: number;
  beat: number;
  string?: number;
  fret?: number;
  writtenMidi?: number;
  playedMidi?: number;
  onsetSec?: number;
  offMs?: number;
  /** Fret (from the capo) at which the heard pitch lies: on the written string, or on playedString where that is not under the hand. */
  playedFret?: number;
  playedString?: number;
  confidence: number;
};

export type BarVerdict = { bar: number; verdict: "same" | "differs" | "unsure" };

/** What the check found; the JSON document `pulgar.check` holds these names. */
export type CheckReport = {
  summary: {
    written: number;
    matched: number;
    missing: number;
    extra: number;
    wrongPitch: number;
    timing: number;
  };
  bars: BarVerdict[];
  differences: Difference[];
  findings: Finding[];
  /** Where each written note was heard: index into sheet.notes → seconds, for those that were. */
  heardAtSec: (number | undefined)[];
};
