// Fits the weights of src/grid/tempo-table.ts: logistic regression with a ridge over the readings of composed studies heard by chance
// (tests/grid/simulate.ts), clean and hard, so that the true tempo, and then the true bar, gets the most of the
// probability.
// Prints the table's rows, and how many of the studies get their tempo before and after. `--from=SEED` (10000), `--takes=N` (2000).

import { type TempoCandidate, tempoCandidates } from "../../src/grid/tempo.js";
import { TEMPO_WEIGHTS, type TempoFeature } from "../../src/grid/tempo-table.js";
import { simulateListening } from "../grid/simulate.js";
import { perform } from "../helpers/takes/perform.js";
import type { BenchCase } from "./bench-case.js";
import { flagValue, studiesFrom } from "./grid-takes.js";

const FIT = {
  rounds: 600,
  rate: 0.05, // Adam's
  ridge: 0.00001, // a weight's square costs this much of the mean loss
  paceRidge: 0.0001, // the same for what only says how quick a beat is: the composer's range of tempi is not the players'
  barShare: 0.5, // weight of the bar's loss against the tempo's
};
const HEARINGS = [
  { misses: 0.01, octaves: 0.005, restruck: 0.002, jitterMs: 5, drift: 0.005 },
  { misses: 0.05, octaves: 0.03, restruck: 0.02, jitterMs: 12, drift: 0.03 },
];
const NAMES = Object.keys(TEMPO_WEIGHTS) as TempoFeature[];

type Case = { candidates: TempoCandidate[]; rows: Float64Array[]; tempo: boolean[]; bar: boolean[] };

function casesOf(from: number, count: number): Case[] {
  return studiesFrom(from, count).flatMap(({ seed, study }) =>
    HEARINGS.flatMap((hearing) => {
      const played = perform(study, { seed, ...hearing });
      const beats = played.beatSec.length - 1;
      const trueBpm = (60 * beats) / ((played.beatSec[beats] ?? 0) - (played.beatSec[0] ?? 0));
      const clicks = played.countIn.map((c) => c.atSec);
      const { candidates } = tempoCandidates(simulateListening(played, { seed, ...hearing }).notes, {
        clicks,
      });
      const tempo = candidates.map((c) => Math.abs(c.tempoBpm / trueBpm - 1) < 0.02);
      const { beats: wanted, unit } = study.meter;
      const bar = candidates.map(
        ({ meter }, k) => (tempo[k] ?? false) && meter.beats === wanted && meter.unit === unit,
      );
      const rows = candidates.map((c) => Float64Array.from(NAMES, (name) => c.features[name] ?? 0));
      return tempo.includes(true) ? [{ candidates, rows, tempo, bar }] : [];
    }),
  );
}

function scoreOf(weights: readonly number[], row: Float64Array): number {
  let sum = 0;
  for (let k = 0; k < row.length; k++) sum += (weights[k] ?? 0) * (row[k] ?? 0);
  return sum;
}

/** Probabilities of the candidates, and adds the gradient of the loss to `slope`. */
function descend(weights: readonly number[], c: Case, slope: number[]): void {
  const scores = c.rows.map((row) => scoreOf(weights, row));
  const top = Math.max(...scores);
  const raw = scores.map((s) => Math.exp(s - top));
  const mass = raw.reduce((sum, x) => sum + x, 0);
  for (const [right, share] of [
    [c.tempo, 1],
    [c.bar, FIT.barShare],
  ] as const) {
    const held = raw.reduce((sum, x, k) => sum + (right[k] ? x : 0), 0);
    if (held === 0) continue;
    c.rows.forEach((row, k) => {
      const x = raw[k] ?? 0;
      const pull = share * (x / mass - (right[k] ? x / held : 0));
      for (let f = 0; f < row.length; f++) slope[f] = (slope[f] ?? 0) + pull * (row[f] ?? 0);
    });
  }
}

/** Part of the cases whose likeliest tempo is the true one. */
function rightShare(weights: readonly number[], cases: readonly Case[]): number {
  const right = cases.filter((c) => {
    const scores = c.rows.map((row) => scoreOf(weights, row));
    const top = Math.max(...scores);
    const massOf = new Map<number, number>();
    c.candidates.forEach(({ tempoBpm }, k) => {
      massOf.set(tempoBpm, (massOf.get(tempoBpm) ?? 0) + Math.exp((scores[k] ?? 0) - top));
    });
    const best = [...massOf].sort((a, b) => b[1] - a[1])[0]?.[0];
    return c.candidates.some(({ tempoBpm }, k) => tempoBpm === best && c.tempo[k]);
  });
  return right.length / Math.max(1, cases.length);
}

const bench: BenchCase = {
  name: "tempo-fit",
  run: async ({ quick, flags }) => {
    const cases = casesOf(flagValue(flags, "from", 10000), flagValue(flags, "takes", quick ? 40 : 2000));
    const before = NAMES.map((name) => TEMPO_WEIGHTS[name]);
    const weights: number[] = [...before];
    const ridge = NAMES.map((name) => (/Pace$|Far$|^slow$|^quick$/.test(name) ? FIT.paceRidge : FIT.ridge));
    const first = NAMES.map(() => 0);
    const second = NAMES.map(() => 0);
    for (let round = 1; round <= (quick ? 20 : FIT.rounds); round++) {
      const slope = weights.map((w, k) => 2 * (ridge[k] ?? 0) * w * cases.length);
      for (const c of cases) descend(weights, c, slope);
      slope.forEach((sum, k) => {
        const g = sum / cases.length;
        first[k] = 0.9 * (first[k] ?? 0) + 0.1 * g;
        second[k] = 0.99 * (second[k] ?? 0) + 0.01 * g * g;
        const step = (first[k] ?? 0) / (1 - 0.9 ** round);
        const size = Math.sqrt((second[k] ?? 0) / (1 - 0.99 ** round)) + 1e-8;
        weights[k] = (weights[k] ?? 0) - (FIT.rate * step) / size;
      });
      weights[NAMES.indexOf("count")] = TEMPO_WEIGHTS.count; // no count-in is shown here: it stays as it was set
    }
    return {
      title: "Weights of tempo and meter",
      columns: ["feature", "before", "after"],
      rows: NAMES.map((name, k) => [name, before[k], Math.round((weights[k] ?? 0) * 100) / 100]),
      notes: [
        `true tempo likeliest: before ${rightShare(before, cases).toFixed(3)}, after ${rightShare(weights, cases).toFixed(3)}, of ${cases.length}`,
      ],
    };
  },
};

export default bench;
