// Fits the weights of src/check/judge-table.ts: what the recording says of written notes that were played or not, and of heard onsets
// that were plucked or not, on rendered takes of other studies and seeds than check.bench.ts reports. Prints the rows to be copied.
// Method: logistic regression by Newton's steps with a small ridge (Hastie, Tibshirani & Friedman 2009, section 4.4).
import { alignSheet } from "../../src/check/align.js";
import { askNotes, THERE_FEATURES } from "../../src/check/judge.js";
import { askHeard, UNWRITTEN_FEATURES } from "../../src/check/unwritten.js";
import { makeTrial, withoutRhythm } from "../helpers/check/trial.js";
import { studyBySeed } from "../helpers/takes/studies.js";
import type { BenchCase, Cell } from "./bench-case.js";
import { type CheckTake, openEar } from "./check-takes.js";

export type Sample = { features: readonly number[]; isTrue: boolean };

const RIDGE = 0.5;

/** Weights, constant first, of a logistic regression. */
export function fitLogistic(samples: readonly Sample[], featureCount: number): number[] {
  const n = featureCount + 1;
  const w = new Array<number>(n).fill(0);
  for (let step = 0; step < 40; step++) {
    const gradient = w.map((x, i) => (i === 0 ? 0 : -RIDGE * x));
    const hessian = w.map((_, r) => w.map((__, c) => (r === c ? (r === 0 ? 1e-6 : RIDGE) : 0)));
    for (const { features, isTrue } of samples) {
      const x = [1, ...features];
      const z = x.reduce((sum, v, i) => sum + v * (w[i] ?? 0), 0);
      const p = 1 / (1 + Math.exp(-z));
      for (let r = 0; r < n; r++) {
        gradient[r] = (gradient[r] ?? 0) + ((isTrue ? 1 : 0) - p) * (x[r] ?? 0);
        const row = hessian[r] as number[];
        for (let c = 0; c < n; c++) row[c] = (row[c] ?? 0) + p * (1 - p) * (x[r] ?? 0) * (x[c] ?? 0);
      }
    }
    const delta = solve(hessian, gradient);
    delta.forEach((d, i) => {
      w[i] = (w[i] ?? 0) + d;
    });
    if (Math.max(...delta.map(Math.abs)) < 1e-6) break;
  }
  return w;
}

/** Gauss with partial pivots. */
function solve(matrix: number[][], right: readonly number[]): number[] {
  const a = matrix.map((row, i) => [...row, right[i] ?? 0]);
  const n = a.length;
  const at = (r: number, c: number): number => a[r]?.[c] ?? 0;
  for (let p = 0; p < n; p++) {
    let pivot = p;
    for (let r = p + 1; r < n; r++) if (Math.abs(at(r, p)) > Math.abs(at(pivot, p))) pivot = r;
    [a[p], a[pivot]] = [a[pivot] as number[], a[p] as number[]];
    for (let r = 0; r < n; r++) {
      if (r === p) continue;
      const factor = at(r, p) / at(p, p);
      for (let c = p; c <= n; c++) (a[r] as number[])[c] = at(r, c) - factor * at(p, c);
    }
  }
  return a.map((_, i) => at(i, n) / at(i, i));
}

const NEAR_SEC = 0.08;

/** Samples of one take: the right sheet, a spoiled one, and the spoiled one without rhythm. */
function collect(take: CheckTake, seed: number, there: Sample[], plucked: Sample[]): void {
  const trial = makeTrial(take.study, seed);
  const right = makeTrial(take.study, seed, []).sheet;
  const isPlayed = (midi: number, sec: number): boolean =>
    take.notes.some((n) => n.midi === midi && Math.abs(n.onsetSec - sec) <= NEAR_SEC);
  for (const sheet of [right, trial.sheet, withoutRhythm(trial.sheet)]) {
    const alignment = alignSheet(sheet, take.listening);
    const asked = askNotes(sheet, take.listening, alignment);
    for (const a of asked)
      if (a.audible)
        there.push({
          features: a.features,
          isTrue: isPlayed(a.midi, alignment.events[a.eventIdx]?.sec ?? a.sec),
        });
    for (const h of askHeard(sheet, take.listening, alignment, asked))
      plucked.push({ features: h.features, isTrue: isPlayed(h.midi, h.sec) });
  }
}

const bench: BenchCase = {
  name: "check-fit",
  run: async ({ quick, flags, log }) => {
    const { hear, close, what } = await openEar(flags.includes("--simulated"));
    const there: Sample[] = [];
    const plucked: Sample[] = [];
    const asked = flags.find((f) => f.startsWith("--takes="))?.slice(8);
    const count = quick ? 6 : Number(asked ?? 40);
    for (let k = 0; k < count; k++) {
      const study = studyBySeed(700 + k);
      for (const condition of ["clean", "hard"] as const) {
        try {
          collect(await hear(study, condition, k, 9000 + k), 2 * k, there, plucked);
        } catch (e) {
          log(`${study.name}: ${(e as Error).message}`);
        }
      }
      log(`${k + 1} of ${count}`);
    }
    await close();
    const rows: Cell[][] = [];
    const notes = [what];
    for (const [name, samples, features] of [
      ["there", there, THERE_FEATURES],
      ["unwritten", plucked, UNWRITTEN_FEATURES],
    ] as const) {
      const weights = fitLogistic(samples, features.length);
      ["constant", ...features].forEach((feature, i) => {
        rows.push([name, feature, weights[i] ?? 0]);
      });
      const isTrue = samples.filter((s) => s.isTrue).length;
      notes.push(
        `${name}: [${weights.map((w) => w.toFixed(3)).join(", ")}] from ${samples.length} samples, ${isTrue} true`,
      );
    }
    return {
      title: "Weights of the check's two judges",
      columns: ["judge", "feature", "weight"],
      rows,
      notes,
    };
  },
};
export default bench;
