/** Stretches of a recording in one key signature. In: chroma. Out: times. Method: windows are compared with the notes of every parent
 * scale, and the likeliest path stays where it is unless a change pays (Viterbi). A change of tonic within one scale is no new section.
 * Cannot: follow keys that last under about ten seconds. */
import { mod } from "../base/numbers.js";
import { modeSteps } from "../theory/scale.js";
import { type Chroma, meanChroma } from "./chroma.js";

const SECTION_DEFAULTS = {
  windowSec: 2,
  changeCost: 2.5, // log odds against a change of scale between two windows
  outside: 9, // log odds a unit of squared chroma outside the scale costs
  shortestSec: 8, // shorter stretches join their neighbour
  minorCost: 0.15, // harmonic and melodic minor must pay for being rarer, each window
} as const;

type ScaleMask = { mask: boolean[]; cost: number };

const SCALES: readonly ScaleMask[] = (["ionian", "harmonic minor", "melodic minor"] as const).flatMap(
  (mode) =>
    Array.from({ length: 12 }, (_, tonic) => {
      const steps = modeSteps(mode);
      return {
        mask: Array.from({ length: 12 }, (_, pc) => steps.includes(mod(pc - tonic, 12))),
        cost: mode === "ionian" ? 0 : SECTION_DEFAULTS.minorCost,
      };
    }),
);

export type Stretch = { startSec: number; endSec: number };

/** One stretch or more that cover the recording. @param changesSec times at which a change may be set, such as those of chords */
export function keyStretches(chroma: Chroma, durationSec: number, changesSec: readonly number[]): Stretch[] {
  const o = SECTION_DEFAULTS;
  const count = Math.max(1, Math.round(durationSec / o.windowSec));
  const costs = Array.from({ length: count }, (_, k) => {
    const x = meanChroma(chroma, "all", k * o.windowSec, (k + 1) * o.windowSec);
    return SCALES.map(({ mask, cost }) => {
      let sum = cost;
      x.forEach((y, pc) => {
        if (!mask[pc]) sum += o.outside * y * y;
      });
      return sum;
    });
  });
  const path = cheapestPath(costs, o.changeCost);
  const edges: number[] = [0];
  for (let k = 1; k < count; k++)
    if (path[k] !== path[k - 1]) edges.push(nearest(changesSec, k * o.windowSec, o.windowSec * 1.5));
  const kept = edges.filter((sec, k) => k === 0 || sec - (edges[k - 1] ?? 0) >= o.shortestSec);
  while (kept.length > 1 && durationSec - (kept.at(-1) ?? 0) < o.shortestSec) kept.pop();
  return kept.map((startSec, k) => ({ startSec, endSec: kept[k + 1] ?? durationSec }));
}

function cheapestPath(costs: readonly (readonly number[])[], changeCost: number): number[] {
  let sums = SCALES.map(() => 0);
  const back: number[][] = [];
  for (const here of costs) {
    const bestIdx = sums.indexOf(Math.min(...sums));
    const moved = (sums[bestIdx] ?? 0) + changeCost;
    const from = sums.map((s, k) => (s <= moved ? k : bestIdx));
    sums = sums.map((s, k) => Math.min(s, moved) + (here[k] ?? 0));
    back.push(from);
  }
  let at = sums.indexOf(Math.min(...sums));
  const path = new Array<number>(costs.length);
  for (let k = costs.length - 1; k >= 0; k--) {
    path[k] = at;
    at = back[k]?.[at] ?? at;
  }
  return path;
}

function nearest(times: readonly number[], sec: number, within: number): number {
  let best = sec;
  let apart = within;
  for (const t of times)
    if (Math.abs(t - sec) < apart) {
      best = t;
      apart = Math.abs(t - sec);
    }
  return best;
}
