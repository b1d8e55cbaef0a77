// Fits the weights of src/notes/pool-table.ts: logistic regression with a ridge over the doubtful onsets of hard takes whose bars come
// four times or more, as the listener of models/listener hears them now. To be run when the listener or its calibration changes; prints
// the table's rows, and the onset F1 of these takes before pooling. `--from=SEED` (7000), `--takes=N` (40): 4 seconds a take.
import { openListener } from "../../cli/listener-runtime.js";
import { findAttacks } from "../../src/grid/attacks.js";
import { findGrid } from "../../src/grid/beats.js";
import { placeNotes } from "../../src/grid/place.js";
import { groupBars } from "../../src/grid/repeats.js";
import { listen } from "../../src/notes/listen.js";
import { poolCases } from "../../src/notes/pool.js";
import { POOL_WEIGHTS, type PoolFeature } from "../../src/notes/pool-table.js";
import { matchNotes } from "../helpers/score/notes.js";
import { renderTake } from "../helpers/takes/take.js";
import type { BenchCase } from "./bench-case.js";
import { barSpans, flagValue, shareOftenHeard, studiesFrom, takeOptions } from "./grid-takes.js";

const FIT = { rounds: 3000, rate: 0.02, ridge: 0.0001 };
const NAMES = Object.keys(POOL_WEIGHTS) as PoolFeature[];

/** One doubtful onset: features in the order of NAMES, and was it played? */
export type FitRow = { x: readonly number[]; played: boolean };

/** Weights that make the truth likeliest, from the present ones on (Adam: Kingma & Ba 2015). */
export function fitLogistic(rows: readonly FitRow[], start: readonly number[]): number[] {
  const weights = [...start];
  const first = start.map(() => 0);
  const second = start.map(() => 0);
  for (let round = 1; round <= FIT.rounds; round++) {
    const slope = weights.map((w) => 2 * FIT.ridge * w);
    for (const { x, played } of rows) {
      const z = x.reduce((sum, v, k) => sum + v * (weights[k] ?? 0), 0);
      const miss = (1 / (1 + Math.exp(-z)) - Number(played)) / rows.length;
      for (let k = 0; k < slope.length; k++) slope[k] = (slope[k] ?? 0) + miss * (x[k] ?? 0);
    }
    slope.forEach((g, k) => {
      first[k] = 0.9 * (first[k] ?? 0) + 0.1 * g;
      second[k] = 0.99 * (second[k] ?? 0) + 0.01 * g * g;
      const step = (first[k] ?? 0) / (1 - 0.9 ** round);
      weights[k] =
        (weights[k] ?? 0) - (FIT.rate * step) / (Math.sqrt((second[k] ?? 0) / (1 - 0.99 ** round)) + 1e-8);
    });
  }
  return weights;
}

const bench: BenchCase = {
  name: "pool-fit",
  run: async ({ quick, flags, log }) => {
    const studies = studiesFrom(
      flagValue(flags, "from", 7000),
      flagValue(flags, "takes", quick ? 2 : 40),
      (s) => shareOftenHeard(s) > 0.8,
    );
    const listener = await openListener();
    const rows: FitRow[] = [];
    for (const { seed, study } of studies) {
      const { take, notes } = await renderTake(study, takeOptions(seed, true));
      const listening = await listen(take, listener.run, { card: listener.card });
      const clicks = findAttacks(take)
        .filter((a) => !a.pitched)
        .map((a) => a.onsetSec);
      const grid = findGrid(listening, { tempoBpm: study.tempoBpm, meter: study.meter, clicks });
      const { groupOfBar } = groupBars(placeNotes(listening.notes, grid), grid);
      const pairs = matchNotes(notes, listening.notes);
      const known = new Set(pairs.map(([r]) => r));
      const missed = notes.filter((_, k) => !known.has(k));
      const played = new Set([
        ...pairs.map(([, e]) => listening.notes[e]),
        ...matchNotes(missed, listening.candidates).map(([, e]) => listening.candidates[e]),
      ]);
      for (const c of poolCases(listening, barSpans(grid), groupOfBar))
        rows.push({ x: NAMES.map((name) => c.features[name]), played: played.has(c.note) });
      log(`${seed}: ${rows.length} doubtful onsets so far`);
    }
    await listener.close();
    const before = NAMES.map((name) => POOL_WEIGHTS[name]);
    const after = fitLogistic(rows, before);
    const wrong = (weights: readonly number[]): number =>
      rows.filter(({ x, played }) => x.reduce((s, v, k) => s + v * (weights[k] ?? 0), 0) > 0 !== played)
        .length;
    return {
      title: "Weights of pooling",
      columns: ["feature", "before", "after"],
      rows: NAMES.map((name, k) => [name, before[k], Math.round((after[k] ?? 0) * 100) / 100]),
      notes: [
        `doubtful onsets told wrongly: before ${wrong(before)}, after ${wrong(after)}, of ${rows.length}`,
      ],
    };
  },
};

export default bench;
