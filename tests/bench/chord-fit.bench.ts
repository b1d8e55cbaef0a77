// Fits the weights of src/harmony/chord-weight-table.ts again: how the bars of composed studies of seeds 100…199 are cut and
// what their pieces are called, against every other way to cut and name them (a semi-Markov model, see src/harmony/chord-cuts.ts; by half
// the exact name counts, by half root and triad alone), with a prior that draws weights to nothing. Bars are read in both passes of naming.
// To them come all qualities of the table as block chords over their root, which the studies' few kinds of chords would let go.
// A new round begins part of the way to the weights found, since what a take uses is read with them. Prints what is used beside what the
// fit gives: the table is read and rounded by hand. `--rounds=N` (2), `--check=200-239` names studies with the weights found.
import { CUT_FEATURES, cutFeatures, type Piece, waysToCut } from "../../src/harmony/chord-cuts.js";
import {
  CHORD_FEATURES,
  type ChordContext,
  candidates,
  chordFeatures,
  NO_CONTEXT,
} from "../../src/harmony/chord-fit.js";
import { CHORD_WEIGHTS, CUT_WEIGHTS } from "../../src/harmony/chord-weight-table.js";
import { contextsOf, type NamingWeights, nameChords } from "../../src/harmony/chords.js";
import { chordRow, parseChordSymbol } from "../../src/theory/chord.js";
import { CHORDS, type ChordRow } from "../../src/theory/chord-table.js";
import { pitchClassOf } from "../../src/theory/pitch.js";
import { studyInput } from "../harmony/study-input.js";
import { scoreChords } from "../helpers/score/chords.js";
import { makeRng } from "../helpers/takes/rng.js";
import { studyBySeed } from "../helpers/takes/studies.js";
import type { Study } from "../helpers/takes/study.js";
import { type BenchCase, type Cell, mean } from "./bench-case.js";

const CHORD_COUNT = CHORD_FEATURES.length;
const SIZE = CHORD_COUNT + CUT_FEATURES.length;
const NAMES: readonly string[] = [...CHORD_FEATURES, ...CUT_FEATURES];
/** Readings that are kept of each piece: the best, and so many others by chance, lest a weight run where none of the best speaks against it. */
const KEPT = 25;
const BY_CHANCE = 12;
const FIT = {
  steps: 60,
  rate: 0.1,
  prior: 0.0003,
  triadShare: 0.3, // of the likelihood; the rest is for the exact name
  towards: 0.6,
  firstPass: 0.4, // bars of the first pass beside one of the second
  blocks: 0.25, // all block chords beside all studies
} as const;
/** Held as they are: in composed studies thin pieces are cut more often than in music. */
const HELD: ReadonlySet<string> = new Set(["thin", "unstruck"]);

/** Features of readings one after the other; `exact` and `triad` mark those that the truth allows. */
type FitPiece = { x: Float32Array; count: number; exact: Uint8Array; triad: Uint8Array; share: number };
type FitBar = {
  ways: { cut: Float64Array; pieces: number[] }[];
  truth: number;
  pieces: FitPiece[];
  weight: number;
};
type Prepared = { study: Study } & ReturnType<typeof studyInput>;

const rangeOf = (from: number, to: number): number[] =>
  Array.from({ length: to - from + 1 }, (_, k) => from + k);
const prepare = (seed: number): Prepared => {
  const study = studyBySeed(seed);
  return { study, ...studyInput(study) };
};

const bench: BenchCase = {
  name: "chord-fit",
  run: async ({ quick, flags, log }) => {
    const flag = (name: string): string | undefined =>
      flags.find((f) => f.startsWith(`--${name}=`))?.slice(name.length + 3);
    const studies = (quick ? rangeOf(100, 107) : rangeOf(100, 199)).map(prepare);
    const used = [...Object.values(CHORD_WEIGHTS), ...Object.values(CUT_WEIGHTS)] as number[];
    let weights = Float64Array.from(used);
    for (let round = 0; round < Number(flag("rounds") ?? 2); round++) {
      const bars = [...studies.flatMap((s) => barsOf(s, weights)), ...blockBars(weights, studies.length)];
      const before = slopeOf(bars, weights, new Float64Array(SIZE)) / studies.length;
      const found = climb(bars, weights, studies.length);
      const after = slopeOf(bars, found, new Float64Array(SIZE)) / studies.length;
      weights = weights.map((w, k) => w + FIT.towards * ((found[k] ?? 0) - w));
      log(
        `round ${round}: log likelihood of a study's bars ${before.toFixed(4)}, fitted ${after.toFixed(4)}`,
      );
    }
    const rows: Cell[][] = NAMES.map((name, k) => [name, used[k], weights[k]]);
    const [from = 200, to = 239] = (flag("check") ?? (quick ? "200-203" : "200-239")).split("-").map(Number);
    const others = rangeOf(from, to).map(prepare);
    const score = (w: Float64Array): Cell[] => {
      const scores = others.map((s) => scoreChords(s.chords, nameChords(s.notes, s.grid, toWeights(w))));
      return [mean(scores.map((s) => s.majmin)), mean(scores.map((s) => s.bass))];
    };
    return {
      title: "Weights of the chord model, used and fitted again",
      columns: ["name", "used", "fitted"],
      rows,
      summary: [
        [`majmin, bass of seeds ${from}…${to}, used`, ...score(Float64Array.from(used))],
        [`majmin, bass of seeds ${from}…${to}, fitted`, ...score(weights)],
      ],
    };
  },
};
export default bench;

function toWeights(w: Float64Array): NamingWeights {
  const cuts = Object.fromEntries(CUT_FEATURES.map((name, k) => [name, w[CHORD_COUNT + k] ?? 0]));
  return { chords: w.slice(0, CHORD_COUNT), cuts: cuts as NamingWeights["cuts"] };
}

type Chord = { from: number; to: number; rootPc: number; row: ChordRow; bassPc: number; symbol: string };

/** True chords of a bar, equal neighbours joined; beats from the bar's begin. */
function truthOf(study: Study, bar: number): Chord[] {
  const out: Chord[] = [];
  for (const c of study.chords.filter((c) => c.bar === bar)) {
    const parts = parseChordSymbol(c.symbol);
    const row = parts && chordRow(parts.quality);
    const rootPc = parts && pitchClassOf(parts.root);
    const bassPc = parts && pitchClassOf(parts.bass);
    const last = out.at(-1);
    if (last?.symbol === c.symbol) last.to += c.beats;
    else if (row && rootPc !== undefined && bassPc !== undefined)
      out.push({ from: c.beat - 1, to: c.beat - 1 + c.beats, rootPc, row, bassPc, symbol: c.symbol });
  }
  return out;
}

/** Bars of a study in both passes. Bars whose truth cannot be said (a chord that nobody strikes) are left out; like bars count once, and a little more. */
function barsOf(s: Prepared, w: Float64Array): FitBar[] {
  const { timed, first, context } = contextsOf(s.notes, s.grid, toWeights(w));
  const rng = makeRng(`fit ${s.study.name}`);
  return [[first, FIT.firstPass] as const, [context, 1] as const].flatMap(([known, passWeight]) => {
    const seen = new Map<string, FitBar>();
    for (let k = 0; k < s.grid.barCount; k++) {
      const truth = truthOf(s.study, k + 1);
      const bar = fitBar(s, timed, k, truth, known, w, () => rng.next());
      if (!bar) continue;
      const looks = Array.from(bar.pieces[0]?.x.slice(0, CHORD_COUNT) ?? [], (v) => Math.round(v * 50));
      const key = `${truth.map((t) => t.symbol).join()} ${looks.join()} ${bar.pieces.length}`;
      const like = seen.get(key);
      if (like) like.weight += 0.5;
      else seen.set(key, bar);
    }
    const total = [...seen.values()].reduce((sum, b) => sum + b.weight, 0);
    return [...seen.values()].map((b) => ({ ...b, weight: (b.weight * passWeight) / total }));
  });
}

function fitBar(
  s: Prepared,
  timed: ReturnType<typeof contextsOf>["timed"],
  barIdx: number,
  truth: readonly Chord[],
  context: ChordContext,
  w: Float64Array,
  chance: () => number,
): FitBar | undefined {
  const { meter } = s.grid;
  const ways = waysToCut(timed, barIdx * meter.beats, meter, context, w.slice(0, CHORD_COUNT));
  const wanted = [...truth.map((t) => t.from), meter.beats].join();
  const at = ways.findIndex((way) => way.edges.join() === wanted);
  const places = new Map<Piece, number>();
  const pieces: FitPiece[] = [];
  const placeOf = (p: Piece): number => {
    const found = places.get(p);
    if (found !== undefined) return found;
    const chord = truth.find((t) => t.from === p.fromBeat && t.to === p.toBeat);
    pieces.push(fitPiece(p, chord, context, w, chance));
    places.set(p, pieces.length - 1);
    return pieces.length - 1;
  };
  const out = ways.map((way) => {
    const x = cutFeatures(way, context);
    return { cut: Float64Array.from(CUT_FEATURES, (name) => x[name]), pieces: way.pieces.map(placeOf) };
  });
  const isSaid = out[at]?.pieces.every((k) => pieces[k]?.exact.includes(1)) ?? false;
  return isSaid ? { ways: out, truth: at, pieces, weight: 1 } : undefined;
}

function fitPiece(
  p: Piece,
  chord: Chord | undefined,
  context: ChordContext,
  w: Float64Array,
  chance: () => number,
): FitPiece {
  const all = p.voices.flatMap((v) =>
    candidates(v).map(({ rootPc, row }) => {
      const x = new Float64Array(CHORD_COUNT);
      chordFeatures(v, rootPc, row, context, x);
      const isTriad = chord !== undefined && chord.rootPc === rootPc && chord.row.family === row.family;
      const isExact = isTriad && chord.row === row && chord.bassPc === v.bass.pc;
      return { x, score: dot(x, 0, w), isTriad, isExact };
    }),
  );
  all.sort((a, b) => b.score - a.score);
  const kept = all.filter(
    (r, k) => k < KEPT || r.isExact || (r.isTriad && k < 4 * KEPT) || chance() < BY_CHANCE / all.length,
  );
  const x = new Float32Array(kept.length * CHORD_COUNT);
  kept.forEach((r, k) => {
    x.set(r.x, k * CHORD_COUNT);
  });
  return {
    x,
    count: kept.length,
    exact: Uint8Array.from(kept, (r) => Number(r.isExact)),
    triad: Uint8Array.from(kept, (r) => Number(r.isTriad)),
    share: p.share,
  };
}

/** Every quality over its root, its notes struck at once with one weight each: plain, with the root again on top, and as two of a take's voices. */
function blockBars(w: Float64Array, studyCount: number): FitBar[] {
  const bars = CHORDS.flatMap((row) =>
    [
      row.steps.slice(1),
      [...row.steps.slice(1), 12],
      row.steps.slice(1).filter((s) => !row.optional.includes(s)),
    ].map((upper, k) => {
      const voices = { inner: zeros(), top: zeros(), low: zeros() };
      upper.forEach((step, at) => {
        const voice = k === 2 && at === upper.length - 1 ? voices.top : voices.inner;
        voice[step % 12] = (voice[step % 12] ?? 0) + 1 / upper.length;
      });
      const bass = { pc: 0, midi: 48, isFirst: true, share: 1, isHeld: false, height: 0 };
      const piece: Piece = {
        fromBeat: 0,
        toBeat: 1,
        share: 1,
        thin: 0,
        voices: [{ bass, ...voices }],
        readings: [],
      };
      const chord: Chord = { from: 0, to: 1, rootPc: 0, row, bassPc: 0, symbol: row.suffix };
      const whole = fitPiece(piece, chord, NO_CONTEXT, w, () => 1);
      return {
        ways: [{ cut: new Float64Array(CUT_FEATURES.length), pieces: [0] }],
        truth: 0,
        pieces: [whole],
        weight: 1,
      };
    }),
  );
  return bars.map((b) => ({ ...b, weight: (FIT.blocks * studyCount) / bars.length }));
}

const zeros = (): number[] => new Array<number>(12).fill(0);

function dot(x: ArrayLike<number>, from: number, w: Float64Array): number {
  let sum = 0;
  for (let k = 0; k < CHORD_COUNT; k++) sum += (x[from + k] ?? 0) * (w[k] ?? 0);
  return sum;
}

/** Log of the summed odds of those marked; far below all when none is. */
function logSum(z: Float64Array, marked?: Uint8Array): number {
  let top = -1e9;
  for (let k = 0; k < z.length; k++) if (!marked || marked[k]) top = Math.max(top, z[k] ?? 0);
  let sum = 0;
  for (let k = 0; k < z.length; k++) if (!marked || marked[k]) sum += Math.exp((z[k] ?? 0) - top);
  return sum > 0 ? top + Math.log(sum) : -1e9;
}

/** Log likelihood of the bars; its slope is added to `slope`, shape (SIZE). */
function slopeOf(bars: readonly FitBar[], w: Float64Array, slope: Float64Array): number {
  const t = FIT.triadShare;
  let sum = 0;
  for (const bar of bars) {
    const z = bar.pieces.map((p) =>
      Float64Array.from({ length: p.count }, (_, r) => p.share * dot(p.x, r * CHORD_COUNT, w)),
    );
    const all = z.map((list) => (list.length > 0 ? logSum(list) : 0));
    const exact = z.map((list, k) => logSum(list, bar.pieces[k]?.exact));
    const triad = z.map((list, k) => logSum(list, bar.pieces[k]?.triad));
    const ofCut = bar.ways.map(({ cut }) => cut.reduce((s, x, k) => s + x * (w[CHORD_COUNT + k] ?? 0), 0));
    const ofNames = (way: number, names: readonly number[]): number =>
      (bar.ways[way]?.pieces ?? []).reduce((s, k) => s + (names[k] ?? 0), ofCut[way] ?? 0);
    const scores = Float64Array.from(bar.ways, (_, way) => ofNames(way, all));
    const total = logSum(scores);
    sum += bar.weight * ((1 - t) * ofNames(bar.truth, exact) + t * ofNames(bar.truth, triad) - total);
    const mass = new Float64Array(bar.pieces.length);
    bar.ways.forEach((way, k) => {
      const p = Math.exp((scores[k] ?? 0) - total);
      for (const piece of way.pieces) mass[piece] = (mass[piece] ?? 0) + p;
      const pull = bar.weight * ((k === bar.truth ? 1 : 0) - p);
      way.cut.forEach((x, n) => {
        slope[CHORD_COUNT + n] = (slope[CHORD_COUNT + n] ?? 0) + pull * x;
      });
    });
    bar.pieces.forEach((p, k) => {
      const isTrue = bar.ways[bar.truth]?.pieces.includes(k) ?? false;
      const list = z[k] ?? new Float64Array(0);
      for (let r = 0; r < p.count; r++) {
        let pull = -(mass[k] ?? 0) * Math.exp((list[r] ?? 0) - (all[k] ?? 0));
        if (isTrue && p.exact[r]) pull += (1 - t) * Math.exp((list[r] ?? 0) - (exact[k] ?? 0));
        if (isTrue && p.triad[r]) pull += t * Math.exp((list[r] ?? 0) - (triad[k] ?? 0));
        pull *= bar.weight * p.share;
        if (Math.abs(pull) < 1e-7) continue;
        for (let n = 0; n < CHORD_COUNT; n++)
          slope[n] = (slope[n] ?? 0) + pull * (p.x[r * CHORD_COUNT + n] ?? 0);
      }
    });
  }
  return sum;
}

/** Gradient ascent on the log likelihood with a step for each weight (Kingma & Ba 2015, arXiv 1412.6980, algorithm 1), smaller at the end. */
function climb(bars: readonly FitBar[], start: Float64Array, studyCount: number): Float64Array {
  const w = Float64Array.from(start);
  const meanOf = new Float64Array(SIZE);
  const square = new Float64Array(SIZE);
  for (let step = 1; step <= FIT.steps; step++) {
    const slope = new Float64Array(SIZE);
    slopeOf(bars, w, slope);
    const rate = FIT.rate * (step > 0.7 * FIT.steps ? 0.3 : 1);
    for (let k = 0; k < SIZE; k++) {
      if (HELD.has(NAMES[k] ?? "")) continue;
      const g = (slope[k] ?? 0) / studyCount - FIT.prior * (w[k] ?? 0);
      meanOf[k] = 0.9 * (meanOf[k] ?? 0) + 0.1 * g;
      square[k] = 0.99 * (square[k] ?? 0) + 0.01 * g * g;
      const m = (meanOf[k] ?? 0) / (1 - 0.9 ** step);
      const v = (square[k] ?? 0) / (1 - 0.99 ** step);
      w[k] = (w[k] ?? 0) + (rate * m) / (Math.sqrt(v) + 1e-8);
    }
  }
  return w;
}
