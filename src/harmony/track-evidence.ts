/** Which pitch classes really sound in a recording. In: chroma and chords. Out: twelve probabilities.
 * Method: logistic regression on how strong the pitch class is on the whole, at its best chord, and at its best moments, the
 * last two also where overtones do not reach; fitted on composed tracks of seeds under 64 against what their parts play (tests/bench/harmony-fit). */
import { mod, sigmoid } from "../base/numbers.js";
import { chordPitchClasses } from "../theory/chord.js";
import { pitchClassOf } from "../theory/pitch.js";
import { type Chroma, meanChroma } from "./chroma.js";
import type { ChordSpan } from "./harmony.js";

/** Coefficients over natural logarithms of the strengths. */
export const TRACK_PRESENCE = {
  bias: 10.75,
  whole: 0.24,
  atChord: -0.35,
  atBest: 2.39,
  midAtChord: 0.27,
  midAtBest: 1.87,
  alone: 2.29,
  named: 0.97,
} as const;

/** Chords that last less than this share of the stretch are not trusted to bring a pitch class. */
const SHORTEST_SHARE = 0.04;
/** Share of frames that make up the best moments: a tune's single notes count. */
const BEST_SHARE = 0.06;

export type PresenceFeatures = Record<Exclude<keyof typeof TRACK_PRESENCE, "bias">, number>;

/** Strengths of each pitch class, 0…1, over a stretch; shape (12). */
export function presenceFeatures(
  chroma: Chroma,
  chords: readonly ChordSpan[],
  startSec: number,
  endSec: number,
): PresenceFeatures[] {
  const whole = meanChroma(chroma, "all", startSec, endSec);
  const all = bestOf(chroma, "all", chords, startSec, endSec);
  const mid = bestOf(chroma, "mid", chords, startSec, endSec);
  const alone = bestAlone(chroma, startSec, endSec);
  const named = namedShare(chords, startSec, endSec);
  return whole.map((x, pc) => ({
    whole: x,
    atChord: all.atChord[pc] ?? 0,
    atBest: all.atBest[pc] ?? 0,
    midAtChord: mid.atChord[pc] ?? 0,
    midAtBest: mid.atBest[pc] ?? 0,
    alone: alone[pc] ?? 0,
    named: named[pc] ?? 0,
  }));
}

/** Strength of each pitch class at the chord that shows it most, and at its best moments; shape (12) each. */
function bestOf(
  chroma: Chroma,
  which: "all" | "mid",
  chords: readonly ChordSpan[],
  startSec: number,
  endSec: number,
): { atChord: number[]; atBest: number[] } {
  const groups = new Map<string, { sec: number; sum: number[] }>();
  let total = 0;
  for (const chord of chords) {
    const from = Math.max(startSec, chord.startSec);
    const to = Math.min(endSec, chord.endSec);
    if (to <= from || chord.root === "") continue;
    const key = chord.symbol.replace(/\/[A-G].*/, "");
    const group = groups.get(key) ?? { sec: 0, sum: new Array<number>(12).fill(0) };
    meanChroma(chroma, which, from, to).forEach((x, pc) => {
      group.sum[pc] = (group.sum[pc] ?? 0) + (to - from) * x;
    });
    group.sec += to - from;
    total += to - from;
    groups.set(key, group);
  }
  const first = Math.max(0, Math.round(startSec / chroma.frameSec));
  const last = Math.min(chroma.frameCount, Math.round(endSec / chroma.frameSec));
  const bestCount = Math.max(1, Math.round(BEST_SHARE * (last - first)));
  const atChord = new Array<number>(12).fill(0);
  const atBest = atChord.map((_, pc) => {
    for (const group of groups.values())
      if (group.sec > SHORTEST_SHARE * total)
        atChord[pc] = Math.max(atChord[pc] ?? 0, (group.sum[pc] ?? 0) / group.sec);
    const values = new Float64Array(Math.max(1, last - first));
    for (let k = first; k < last; k++) values[k - first] = chroma[which][k * 12 + pc] ?? 0;
    return meanOf(values.sort().subarray(-bestCount));
  });
  return { atChord, atBest };
}

/** Strength of each pitch class at its best moments, less what the third and fifth overtone of other notes may put there; shape (12). */
function bestAlone(chroma: Chroma, startSec: number, endSec: number): number[] {
  const first = Math.max(0, Math.round(startSec / chroma.frameSec));
  const last = Math.min(chroma.frameCount, Math.round(endSec / chroma.frameSec));
  const bestCount = Math.max(1, Math.round(BEST_SHARE * (last - first)));
  return Array.from({ length: 12 }, (_, pc) => {
    const values = new Float64Array(Math.max(1, last - first));
    for (let k = first; k < last; k++) {
      const at = (step: number): number => chroma.all[k * 12 + mod(pc - step, 12)] ?? 0;
      values[k - first] = at(0) * (1 - Math.min(1, Math.max(at(7), 0.7 * at(4))));
    }
    return meanOf(values.sort().subarray(-bestCount));
  });
}

const meanOf = (x: Float64Array): number => x.reduce((sum, y) => sum + y, 0) / Math.max(1, x.length);

/** Semitones over the root of a chord from which its naming says nothing of a note: sevenths are what overtones of the third and fifth add. */
const SEVENTHS_FROM = 10;

/** Share of the time in which a chord with this pitch class is named, sevenths left out; shape (12). */
function namedShare(chords: readonly ChordSpan[], startSec: number, endSec: number): number[] {
  const share = new Array<number>(12).fill(0);
  let total = 0;
  for (const chord of chords) {
    const sec = Math.min(endSec, chord.endSec) - Math.max(startSec, chord.startSec);
    if (sec <= 0 || chord.root === "") continue;
    total += sec;
    const root = pitchClassOf(chord.root) ?? 0;
    for (const pc of chordPitchClasses(chord.symbol))
      if (mod(pc - root, 12) < SEVENTHS_FROM) share[pc] = (share[pc] ?? 0) + sec;
  }
  return share.map((x) => (total > 0 ? x / total : 0));
}

/** Numbers of the regression for one pitch class, in the order of TRACK_PRESENCE; the first is 1. */
export function presenceInputs(f: PresenceFeatures): number[] {
  const names = Object.keys(TRACK_PRESENCE) as (keyof typeof TRACK_PRESENCE)[];
  return names.map((name) => (name === "bias" ? 1 : Math.log(Math.max(0.005, f[name]))));
}

/** Probability that each pitch class sounds, shape (12). */
export function trackPresence(features: readonly PresenceFeatures[]): number[] {
  const weights = Object.values(TRACK_PRESENCE);
  return features.map((f) =>
    sigmoid(presenceInputs(f).reduce((sum, x, k) => sum + x * (weights[k] ?? 0), 0)),
  );
}
