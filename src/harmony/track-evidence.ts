/** Which pitch classes really sound in a recording. In: chroma and chords. Out: twelve probabilities.
 * Method: logistic regression on how strong the pitch class is on the whole, at its best chord, and at its best moments; coefficients
 * fitted on composed tracks of even seeds against what their parts play (tests/bench/harmony-fit). */
import { sigmoid } from "../base/numbers.js";
import { type Chroma, meanChroma } from "./chroma.js";
import type { ChordSpan } from "./harmony.js";

/** Coefficients over natural logarithms of the three strengths. */
export const TRACK_PRESENCE = { bias: 9.17, whole: 1.84, atChord: 2.8, atBest: 2.95 } as const;

/** Chords that last less than this share of the stretch are not trusted to bring a pitch class. */
const SHORTEST_SHARE = 0.04;
/** Share of frames that make up the best moments: a tune's single notes count. */
const BEST_SHARE = 0.06;

export type PresenceFeatures = { whole: number; atChord: number; atBest: number };

/** Strengths of each pitch class, 0…1, over a stretch. */
export function presenceFeatures(
  chroma: Chroma,
  chords: readonly ChordSpan[],
  startSec: number,
  endSec: number,
): PresenceFeatures[] {
  const whole = meanChroma(chroma, "all", startSec, endSec);
  const groups = new Map<string, { sec: number; sum: number[] }>();
  let total = 0;
  for (const chord of chords) {
    const from = Math.max(startSec, chord.startSec);
    const to = Math.min(endSec, chord.endSec);
    if (to <= from || chord.root === "") continue;
    const key = chord.symbol.replace(/\/[A-G].*/, "");
    const group = groups.get(key) ?? { sec: 0, sum: new Array<number>(12).fill(0) };
    meanChroma(chroma, "all", from, to).forEach((x, pc) => {
      group.sum[pc] = (group.sum[pc] ?? 0) + (to - from) * x;
    });
    group.sec += to - from;
    total += to - from;
    groups.set(key, group);
  }
  const first = Math.max(0, Math.round(startSec / chroma.frameSec));
  const last = Math.min(chroma.frameCount, Math.round(endSec / chroma.frameSec));
  return whole.map((x, pc) => {
    let atChord = 0;
    for (const group of groups.values())
      if (group.sec > SHORTEST_SHARE * total) atChord = Math.max(atChord, (group.sum[pc] ?? 0) / group.sec);
    const values: number[] = [];
    for (let k = first; k < last; k++) values.push(chroma.all[k * 12 + pc] ?? 0);
    values.sort((a, b) => b - a);
    const best = values.slice(0, Math.max(1, Math.round(BEST_SHARE * values.length)));
    return { whole: x, atChord, atBest: best.reduce((sum, y) => sum + y, 0) / best.length };
  });
}

/** Probability that each pitch class sounds, shape (12). */
export function trackPresence(features: readonly PresenceFeatures[]): number[] {
  const log = (x: number): number => Math.log(Math.max(0.005, x));
  const o = TRACK_PRESENCE;
  return features.map((f) =>
    sigmoid(o.bias + o.whole * log(f.whole) + o.atChord * log(f.atChord) + o.atBest * log(f.atBest)),
  );
}
