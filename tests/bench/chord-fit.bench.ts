// Fits the weights of src/harmony/chord-weight-table.ts again: the true chord of every stretch of composed studies of seeds 100…179, given
// where it begins and ends, against every other reading (multinomial logistic regression, with a prior that draws weights to nothing).
// Prints what is used beside what the fit gives. `--write` is not there on purpose: the table is read and rounded by hand.
import { CHORD_FEATURES, type ChordContext, candidates, chordFeatures } from "../../src/harmony/chord-fit.js";
import { type BeatNote, hearVoices, melodicShare, toBeats } from "../../src/harmony/chord-voices.js";
import { CHORD_WEIGHTS } from "../../src/harmony/chord-weight-table.js";
import { lowNotes, notePresence } from "../../src/harmony/evidence.js";
import { chordRow, parseChordSymbol } from "../../src/theory/chord.js";
import type { ChordRow } from "../../src/theory/chord-table.js";
import { pitchClassOf } from "../../src/theory/pitch.js";
import { studyInput } from "../harmony/study-input.js";
import { studyBySeed } from "../helpers/takes/studies.js";
import type { Study } from "../helpers/takes/study.js";
import type { BenchCase, Cell } from "./bench-case.js";

type Chord = { rootPc: number; row: ChordRow; bassPc: number };
type Stretch = Chord & { start: number; end: number };
type Case = { rows: Float64Array[]; right: boolean[]; weight: number };
const SIZE = CHORD_FEATURES.length;
/** Readings that are kept of each stretch, best first: the others have no say. */
const KEPT = 50;
const FIT = { rounds: 3, steps: 120, rate: 0.12, prior: 0.0005 } as const;

const bench: BenchCase = {
  name: "chord-fit",
  run: async ({ quick, log }) => {
    const studies = Array.from({ length: quick ? 8 : 80 }, (_, k) => prepare(studyBySeed(100 + k)));
    const used = Object.values(CHORD_WEIGHTS) as number[];
    let weights: Float64Array = Float64Array.from(used);
    const right: number[] = [];
    let cases: Case[] = [];
    for (let round = 0; round < FIT.rounds; round++) {
      cases = studies.flatMap((s) => casesOf(s, weights));
      right.push(shareRight(cases, weights));
      weights = fit(cases, weights);
      log(
        `round ${round}: right ${right.at(-1)?.toFixed(4)} before, ${shareRight(cases, weights).toFixed(4)} after`,
      );
    }
    const rows: Cell[][] = CHORD_FEATURES.map((name, k) => [name, used[k], weights[k]]);
    return {
      title: "Weights of the chord model, used and fitted again",
      columns: ["name", "used", "fitted"],
      rows,
      summary: [["exactly right of stretches", right[0], shareRight(cases, weights)]],
    };
  },
};
export default bench;

type Prepared = { notes: BeatNote[]; stretches: Stretch[]; context: ChordContext };

function prepare(study: Study): Prepared {
  const { notes, grid } = studyInput(study);
  const timed = notes.map((n) => toBeats(n, grid)).sort((a, b) => a.start - b.start || a.midi - b.midi);
  const stretches = study.chords.flatMap((c) => {
    const parts = parseChordSymbol(c.symbol);
    const row = parts && chordRow(parts.quality);
    const rootPc = parts && pitchClassOf(parts.root);
    const bassPc = parts && pitchClassOf(parts.bass);
    if (!row || rootPc === undefined || bassPc === undefined) return [];
    const start = (c.bar - 1) * grid.meter.beats + c.beat - 1;
    return [{ start, end: start + c.beats, rootPc, row, bassPc }];
  });
  const tonicPc = pitchClassOf(study.mode.tonic);
  return {
    notes: timed,
    stretches,
    context: {
      presence: notePresence(notes),
      bassUse: lowNotes(notes, grid),
      melodic: melodicShare(timed, grid.meter.beats, grid.barCount),
      ...(tonicPc === undefined ? {} : { tonicPc }),
    },
  };
}

type Found = Chord & { x: Float64Array };

function allReadings(s: Prepared, stretch: Stretch, context: ChordContext): Found[] {
  return hearVoices(s.notes, stretch.start, stretch.end).flatMap((v) =>
    candidates(v).map(({ rootPc, row }) => {
      const x = new Float64Array(SIZE);
      chordFeatures(v, rootPc, row, context, x);
      return { rootPc, row, bassPc: v.bass.pc, x };
    }),
  );
}

const scoreOf = (x: Float64Array, w: Float64Array): number =>
  x.reduce((sum, v, k) => sum + v * (w[k] ?? 0), 0);

/** Cases of a study: what the take uses is taken from a first reading with the weights as they are. Like stretches count once, and a little more. */
function casesOf(s: Prepared, w: Float64Array): Case[] {
  const context = { ...s.context, used: usedBy(s, w) };
  const seen = new Map<string, Case>();
  for (const stretch of s.stretches) {
    const all = allReadings(s, stretch, context);
    const isRight = (f: Found): boolean =>
      f.rootPc === stretch.rootPc && f.row === stretch.row && f.bassPc === stretch.bassPc;
    if (!all.some(isRight)) continue;
    const key = `${stretch.rootPc} ${stretch.row.suffix} ${stretch.bassPc} ${all[0]?.x.map((v) => Math.round(v * 100)).join()}`;
    const known = seen.get(key);
    if (known) {
      known.weight += 0.3;
      continue;
    }
    const ranked = all
      .map((f) => ({ f, score: scoreOf(f.x, w) }))
      .sort((a, b) => b.score - a.score)
      .filter(({ f }, k) => k < KEPT || isRight(f));
    seen.set(key, {
      rows: ranked.map(({ f }) => f.x),
      right: ranked.map(({ f }) => isRight(f)),
      weight: 1,
    });
  }
  return [...seen.values()];
}

function usedBy(s: Prepared, w: Float64Array): NonNullable<ChordContext["used"]> {
  const sums = new Map<string, number>();
  let total = 0;
  for (const stretch of s.stretches) {
    const all = allReadings(s, stretch, s.context);
    const scores = all.map((f) => scoreOf(f.x, w));
    const top = Math.max(...scores);
    const odds = scores.map((z) => Math.exp(z - top));
    const sum = odds.reduce((a, b) => a + b, 0);
    all.forEach((f, k) => {
      const p = (odds[k] ?? 0) / sum;
      if (p < 0.02) return;
      const beats = (stretch.end - stretch.start) * p;
      total += beats;
      for (const key of [
        `${f.rootPc} ${f.row.suffix}`,
        `${f.rootPc} family ${f.row.family}`,
        `${f.rootPc} ${f.row.suffix} ${f.bassPc}`,
      ])
        sums.set(key, (sums.get(key) ?? 0) + beats * p);
    });
  }
  const share = (key: string): number => Math.sqrt((sums.get(key) ?? 0) / Math.max(1e-9, total));
  return (rootPc, row, bassPc) => [
    share(`${rootPc} ${row.suffix}`),
    share(`${rootPc} family ${row.family}`),
    share(`${rootPc} ${row.suffix} ${bassPc}`),
  ];
}

function shareRight(cases: readonly Case[], w: Float64Array): number {
  let right = 0;
  let total = 0;
  for (const c of cases) {
    const scores = c.rows.map((x) => scoreOf(x, w));
    total += c.weight;
    if (c.right[scores.indexOf(Math.max(...scores))]) right += c.weight;
  }
  return right / Math.max(1e-9, total);
}

/** Gradient ascent on the log-likelihood with a step for each weight (Kingma & Ba 2015, arXiv 1412.6980, algorithm 1). */
function fit(cases: readonly Case[], start: Float64Array): Float64Array {
  const w = Float64Array.from(start);
  const mean = new Float64Array(SIZE);
  const square = new Float64Array(SIZE);
  const total = cases.reduce((sum, c) => sum + c.weight, 0);
  for (let step = 1; step <= FIT.steps; step++) {
    const slope = new Float64Array(SIZE);
    for (const c of cases) {
      const z = c.rows.map((x) => scoreOf(x, w));
      const top = Math.max(...z);
      const odds = z.map((v) => Math.exp(v - top));
      const all = odds.reduce((a, b) => a + b, 0);
      const right = odds.reduce((a, b, k) => a + (c.right[k] ? b : 0), 0) + 1e-300;
      odds.forEach((v, k) => {
        const pull = c.weight * ((c.right[k] ? v / right : 0) - v / all);
        if (Math.abs(pull) < 1e-6) return;
        c.rows[k]?.forEach((x, n) => {
          if (x !== 0) slope[n] = (slope[n] ?? 0) + pull * x;
        });
      });
    }
    for (let k = 0; k < SIZE; k++) {
      const g = (slope[k] ?? 0) / total - FIT.prior * (w[k] ?? 0);
      mean[k] = 0.9 * (mean[k] ?? 0) + 0.1 * g;
      square[k] = 0.99 * (square[k] ?? 0) + 0.01 * g * g;
      const m = (mean[k] ?? 0) / (1 - 0.9 ** step);
      const v = (square[k] ?? 0) / (1 - 0.99 ** step);
      w[k] = (w[k] ?? 0) + (FIT.rate * m) / (Math.sqrt(v) + 1e-8);
    }
  }
  return w;
}
