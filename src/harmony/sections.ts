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
  borderSec: 3.5, // a change is set at a chord so near: a chord in both scales may stand between
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
    return SCALES.map((scale) => scale.cost + outsideCost(x, scale));
  });
  const path = cheapestPath(costs, o.changeCost);
  const edges: number[] = [0];
  for (let k = 1; k < count; k++)
    if (path[k] !== path[k - 1])
      edges.push(border(chroma, changesSec, k * o.windowSec, SCALES[path[k - 1] ?? 0], SCALES[path[k] ?? 0]));
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

/** What a scale leaves over of a chroma, in log odds a window. */
function outsideCost(x: readonly number[], { mask }: ScaleMask): number {
  let sum = 0;
  x.forEach((y, pc) => {
    if (!mask[pc]) sum += SECTION_DEFAULTS.outside * y * y;
  });
  return sum;
}

/** The time near `sec`, among those given, at which the change from one scale to the other leaves least over; `sec` when none is near. */
function border(
  chroma: Chroma,
  changesSec: readonly number[],
  sec: number,
  before: ScaleMask | undefined,
  after: ScaleMask | undefined,
): number {
  const within = SECTION_DEFAULTS.borderSec;
  const near = changesSec.filter((t) => Math.abs(t - sec) < within);
  if (!before || !after) return sec;
  const cost = (t: number): number =>
    (t - sec + within) * outsideCost(meanChroma(chroma, "all", sec - within, t), before) +
    (sec + within - t) * outsideCost(meanChroma(chroma, "all", t, sec + within), after);
  return near.reduce((best, t) => (cost(t) < cost(best) - 1e-9 ? t : best), near[0] ?? sec);
}
