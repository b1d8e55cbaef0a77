/** Which pitch classes really sound in a recording. In: chroma and chords. Out: twelve probabilities.
 * Method: logistic regression on how strong the pitch class is on the whole, at its best chord, and at its best moments, the
 * last two also where overtones do not reach; fitted on composed tracks of seeds under 64 against what their parts play (tests/bench/harmony-fit). */
import { sigmoid } from "../base/numbers.js";
import { type Chroma, meanChroma } from "./chroma.js";
import type { ChordSpan } from "./harmony.js";

/** Coefficients over natural logarithms of the strengths. */
export const TRACK_PRESENCE = {
  bias: 9.5,
  whole: 0.9,
  atChord: 1.3,
  atBest: 3.2,
  midAtChord: 1,
  midAtBest: 1.3,
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
  return whole.map((x, pc) => ({
    whole: x,
    atChord: all.atChord[pc] ?? 0,
    atBest: all.atBest[pc] ?? 0,
    midAtChord: mid.atChord[pc] ?? 0,
    midAtBest: mid.atBest[pc] ?? 0,
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
    return (
      values
        .sort()
        .subarray(-bestCount)
        .reduce((sum, y) => sum + y, 0) / bestCount
    );
  });
  return { atChord, atBest };
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
