// Which step of the grid each event stands on.
// In: events as beat positions (swing already taken out), the meter's beats a bar, the steps allowed.
// Out: a tick count from the first beat for each event. Method: every beat has a division (one, two, three, four, six
// or eight steps); a Viterbi over the beats weighs the distance of its events from their steps against finer divisions
// and changes of division; a second pass knows which steps this study uses at this beat of the bar.
import { clamp, mod } from "../base/numbers.js";
import { TICKS_PER_BEAT } from "../base/ticks.js";

const STEP_DEFAULTS = Object.freeze({
  sigmaSec: 0.015, // jitter of hits and of the listener together
  curveShare: 0.012, // what the tempo curve leaves, as share of a beat
  change: 1, // nats for another division than the beat before
  together: 4, // nats for two events on one step
  most: 9, // an event far from any step costs no more: it is a stray
  memory: 0.75, // how far the second pass trusts what other bars do here
});

/** Divisions of a beat and their price in nats: rare ones must earn their place. */
const DIVISIONS: readonly { steps: number; price: number }[] = [
  { steps: 1, price: 0 },
  { steps: 2, price: 0 },
  { steps: 3, price: 0.5 },
  { steps: 4, price: 0.3 },
  { steps: 6, price: 2.5 },
  { steps: 8, price: 4 },
];

export type StepInput = {
  /** Position in beats from the first beat, by time of the event; rising. */
  positions: readonly number[];
  /** Length of a beat about each event, seconds. */
  beatLenSec: readonly number[];
  beatsPerBar: number;
  /** Steps a beat that may be used, such as [1, 2, 3, 4]. */
  divisions: readonly number[];
};

/** Steps a beat allowed by a grid option: notes of 1/gridDivision in a meter whose beat is 1/unit; all usual ones without it. */
export function divisionsFor(unit: number, gridDivision: 8 | 12 | 16 | undefined): number[] {
  if (gridDivision === undefined) return unit >= 8 ? [1, 2, 3, 4] : [1, 2, 3, 4, 6, 8];
  const finest = Math.max(1, gridDivision / unit);
  const whole = Number.isInteger(finest) ? finest : Math.ceil(finest) * 2; // triplets over an eighth beat
  return DIVISIONS.map((d) => d.steps).filter((s) => whole % s === 0);
}

/** @returns ticks from the first beat, one an event; never falling */
export function chooseSteps(input: StepInput): number[] {
  const first = pass(input, undefined);
  const used = tickUse(first, input.beatsPerBar);
  return pass(input, used);
}

/** Share of events on each tick, by beat of the bar: use[beat][tick]. */
function tickUse(ticks: readonly number[], beatsPerBar: number): Float64Array[] {
  const use = Array.from({ length: beatsPerBar }, () => new Float64Array(TICKS_PER_BEAT));
  const all = new Float64Array(TICKS_PER_BEAT);
  for (const tick of ticks) {
    const row = use[mod(Math.floor(tick / TICKS_PER_BEAT), beatsPerBar)] as Float64Array;
    const at = mod(tick, TICKS_PER_BEAT);
    row[at] = (row[at] as number) + 1;
    all[at] = (all[at] as number) + 1;
  }
  const total = ticks.length + 1;
  for (const row of use) {
    const rowTotal = row.reduce((s, x) => s + x, 0);
    for (let k = 0; k < TICKS_PER_BEAT; k++)
      row[k] = ((row[k] as number) + (3 * (all[k] as number)) / total + 0.02) / (rowTotal + 3.5);
  }
  return use;
}

function pass(input: StepInput, use: readonly Float64Array[] | undefined): number[] {
  const { positions, beatLenSec, beatsPerBar } = input;
  const divisions = DIVISIONS.filter((d) => input.divisions.includes(d.steps));
  if (positions.length === 0) return [];
  const firstBeat = Math.floor((positions[0] as number) + 1e-9);
  const lastBeat = Math.floor(positions.at(-1) as number) + 1;
  const beats = lastBeat - firstBeat + 1;
  const inBeat: number[][] = Array.from({ length: beats }, () => []);
  positions.forEach((u, idx) => {
    (inBeat[clamp(Math.floor(u) - firstBeat, 0, beats - 1)] as number[]).push(idx);
  });
  const cost = new Float64Array(divisions.length);
  let total = new Float64Array(divisions.length);
  const back: Int8Array[] = [];
  const chosen: number[][][] = [];
  for (let b = 0; b < beats; b++) {
    const idxs = inBeat[b] as number[];
    const ticksOf: number[][] = [];
    divisions.forEach((division, d) => {
      const ticks = idxs.map((idx) => {
        const share = (positions[idx] as number) - (firstBeat + b);
        return (Math.round(share * division.steps) * TICKS_PER_BEAT) / division.steps;
      });
      ticksOf.push(ticks);
      let sum = idxs.length > 0 ? division.price : 0;
      idxs.forEach((idx, k) => {
        const tick = ticks[k] as number;
        const share = (positions[idx] as number) - (firstBeat + b);
        const sigma = STEP_DEFAULTS.sigmaSec / (beatLenSec[idx] as number) + STEP_DEFAULTS.curveShare;
        const x = (share - tick / TICKS_PER_BEAT) / sigma;
        const uniform = 1 / division.steps;
        const row = use?.[mod(firstBeat + b + (tick >= TICKS_PER_BEAT ? 1 : 0), beatsPerBar)];
        const known = row === undefined ? uniform : (row[tick % TICKS_PER_BEAT] as number);
        const memory = row === undefined ? 0 : STEP_DEFAULTS.memory;
        sum +=
          Math.min(STEP_DEFAULTS.most, 0.5 * x * x) - Math.log(memory * known + (1 - memory) * uniform * 0.5);
        if (k > 0 && ticks[k - 1] === tick) sum += STEP_DEFAULTS.together;
      });
      cost[d] = sum;
    });
    const next = new Float64Array(divisions.length);
    const from = new Int8Array(divisions.length);
    for (let d = 0; d < divisions.length; d++) {
      let best = Number.POSITIVE_INFINITY;
      for (let e = 0; e < divisions.length; e++) {
        const s = (total[e] as number) + (d === e || idxs.length === 0 ? 0 : STEP_DEFAULTS.change);
        if (s < best - 1e-12) {
          best = s;
          from[d] = e;
        }
      }
      next[d] = best + (cost[d] as number);
    }
    total = next;
    back.push(from);
    chosen.push(ticksOf);
  }
  let d = 0;
  for (let e = 1; e < total.length; e++) if ((total[e] as number) < (total[d] as number)) d = e;
  const out = new Array<number>(positions.length).fill(0);
  for (let b = beats - 1; b >= 0; b--) {
    const ticks = (chosen[b] as number[][])[d] as number[];
    (inBeat[b] as number[]).forEach((idx, k) => {
      out[idx] = (firstBeat + b) * TICKS_PER_BEAT + (ticks[k] as number);
    });
    d = (back[b] as Int8Array)[d] as number;
  }
  return out;
}
