import { expectations, type LearningLattice } from "./lattices.js";

// Learns the weights of the fretboard search on lattices: the expected number of marks that are missed goes down (minimum risk, Smith
// & Eisner 2006), by all lessons at once with Adam (Kingma & Ba 2015), averaged over the last third, pulled towards where it began.
// What no mark speaks of is summed out. The likelihood of the marks was tried before: on lattices that are pruned as in the search it
// rewards flat costs (strings 0.63, open strings 0.72 on the very pieces it learnt from).

/** @property share how much the lesson counts */
export type Lesson = { lattice: LearningLattice; share: number };

/** @property riskOf what a missed string, open string and finger count
 * @property pull towards the start, for a step of one `scale` @property steps of Adam
 * @property start, scale along LINEAR: where to begin, and the usual size of each weight
 * @property isSigned weights that may go below 0 */
export type LearnOptions = {
  riskOf: readonly number[];
  pull: number;
  steps: number;
  start: Float64Array;
  scale: Float64Array;
  isSigned: readonly boolean[];
};

const TOP_RATE = 0.06; // in scales a step, falling to a tenth
const PER_LESSONS = 1000; // sums are divided by this, so that `pull` is a small number
const NUDGE = 0.02; // of the marks' cost, for the slope of the risk
const AVERAGED = 0.3; // of the steps, the last

export function learn(lessons: readonly Lesson[], options: LearnOptions): Float64Array {
  const { start, scale, isSigned, pull, steps } = options;
  const w = Float64Array.from(start);
  const mean = new Float64Array(w.length);
  const square = new Float64Array(w.length);
  const sum = new Float64Array(w.length);
  let summed = 0;
  for (let step = 1; step <= steps; step++) {
    const slope = slopeOfRisk(lessons, w, options.riskOf);
    const rate = TOP_RATE * 0.1 ** (step / steps);
    slope.forEach((s, k) => {
      const unit = scale[k] ?? 1;
      const here = w[k] ?? 0;
      const g = s * unit + (pull * (here - (start[k] ?? 0))) / unit;
      mean[k] = 0.9 * (mean[k] ?? 0) + 0.1 * g;
      square[k] = 0.98 * (square[k] ?? 0) + 0.02 * g * g;
      const m = (mean[k] ?? 0) / (1 - 0.9 ** step);
      const size = Math.sqrt((square[k] ?? 0) / (1 - 0.98 ** step));
      const moved = here - (rate * unit * m) / (size + 1e-9);
      w[k] = isSigned[k] === true ? moved : Math.max(0, moved);
    });
    if (step <= (1 - AVERAGED) * steps) continue;
    summed++;
    w.forEach((x, k) => {
      sum[k] = (sum[k] ?? 0) + x;
    });
  }
  return sum.map((x) => x / summed);
}

/** How the expected missed marks grow with each weight: as expected features answer to a small cost on missed marks. */
function slopeOfRisk(lessons: readonly Lesson[], w: Float64Array, riskOf: readonly number[]): Float64Array {
  const slope = new Float64Array(w.length);
  const none = riskOf.map(() => 0);
  const some = riskOf.map((c) => NUDGE * c);
  for (const { lattice, share } of lessons) {
    const free = expectations(lattice, w, none).features;
    const nudged = expectations(lattice, w, some).features;
    for (let k = 0; k < w.length; k++)
      slope[k] = (slope[k] ?? 0) + (share * ((nudged[k] ?? 0) - (free[k] ?? 0))) / NUDGE / PER_LESSONS;
  }
  return slope;
}
