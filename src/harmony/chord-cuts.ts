/** Where in a bar the chord changes. In: the notes near a bar, what is known of the take. Out: the pieces of the likeliest way to cut it.
 * Method: every way to cut the bar at beats, in three pieces at most, is weighed with the names of its pieces (a semi-Markov model, after
 * Sarawagi & Cohen 2004, NeurIPS): a name's log odds count by its share of the bar, a way by all the names that it allows.
 * Cannot: cut within a beat. */
import { type ChordContext, type ChordReading, readChord } from "./chord-fit.js";
import { type BeatNote, hearVoices, type Voices } from "./chord-voices.js";
import { CUT_WEIGHTS, type CutFeature } from "./chord-weight-table.js";

/** A stretch of a bar. @property share of the bar, 0…1 @property thin pitch classes under three that it strikes
 * @property voices over each possible bass, none where nothing is struck @property readings best first */
export type Piece = {
  fromBeat: number;
  toBeat: number;
  share: number;
  thin: number;
  voices: Voices[];
  readings: ChordReading[];
};

/** A way to cut a bar. @property isOdd not in halves */
export type BarCut = { edges: readonly number[]; isOdd: boolean; pieces: Piece[] };

type Meter = { beats: number; unit: number };

export const CUT_FEATURES = Object.keys(CUT_WEIGHTS) as CutFeature[];

/** Readings that have a say in how likely a way to cut is: the others' share is under a thousandth. */
const KEPT = 60;

/** Every way to cut the bar that begins at beat `from`. @param weights of CHORD_FEATURES, as used when left out */
export function waysToCut(
  notes: readonly BeatNote[],
  from: number,
  meter: Meter,
  context: ChordContext,
  weights?: Float64Array,
): BarCut[] {
  const { beats } = meter;
  const near = notes.filter((n) => n.start < from + beats && n.end > from);
  const known = new Map<number, Piece>();
  const piece = (a: number, b: number): Piece => {
    const key = a * 100 + b;
    const found = known.get(key) ?? readPiece(near, from, a, b, beats, context, weights);
    known.set(key, found);
    return found;
  };
  return edgesOf(meter).map((edges) => ({
    edges,
    isOdd: edges.length > 2 && !(edges.length === 3 && edges[1] === beats / 2),
    pieces: edges.slice(0, -1).map((a, k) => piece(a, edges[k + 1] ?? beats)),
  }));
}

/** Beats at which pieces begin, and the end of the bar: whole, in two, in three. Compound meters are cut at their big beats. */
function edgesOf({ beats, unit }: Meter): number[][] {
  const step = unit === 8 && beats % 3 === 0 ? 3 : 1;
  const cuts: number[] = [];
  for (let b = step; b < beats; b += step) cuts.push(b);
  return [
    [0, beats],
    ...cuts.flatMap((cut, k) => [
      [0, cut, beats],
      ...cuts.slice(k + 1).map((later) => [0, cut, later, beats]),
    ]),
  ];
}

function readPiece(
  notes: readonly BeatNote[],
  from: number,
  a: number,
  b: number,
  beats: number,
  context: ChordContext,
  weights: Float64Array | undefined,
): Piece {
  const voices = hearVoices(notes, from + a, from + b);
  const struck = notes.filter((n) => n.start >= from + a - 0.05 && n.start < from + b - 0.05);
  return {
    fromBeat: a,
    toBeat: b,
    share: (b - a) / beats,
    thin: Math.max(0, 3 - new Set(struck.map((n) => n.midi % 12)).size),
    voices,
    readings: readChord(voices, context, KEPT, weights),
  };
}

/** What speaks for a way to cut, but for the names of its pieces; see CUT_WEIGHTS. */
export function cutFeatures(
  { edges, isOdd, pieces }: BarCut,
  context: ChordContext,
): Record<CutFeature, number> {
  const cuts = edges.length - 2;
  const sum = (of: (p: Piece) => number): number => pieces.reduce((total, p) => total + p.share * of(p), 0);
  return {
    cut: cuts,
    oddCut: isOdd ? 1 : 0,
    cutUsual: cuts * context.cutShare,
    thin: sum((p) => (p.voices.length > 0 ? p.thin : 0)),
    unstruck: sum((p) => (p.voices.length > 0 ? 0 : 1)),
  };
}

/** The likeliest way, with its probability among all. Ties go to fewer cuts. */
export function bestCut(
  ways: readonly BarCut[],
  context: ChordContext,
  weights: Readonly<Record<CutFeature, number>> = CUT_WEIGHTS,
): { pieces: Piece[]; probability: number } {
  const scores = ways.map((way) => {
    const x = cutFeatures(way, context);
    const names = way.pieces.reduce((sum, p) => sum + (p.voices.length > 0 ? logSum(p) : 0), 0);
    return CUT_FEATURES.reduce((sum, name) => sum + weights[name] * x[name], names);
  });
  let best = 0;
  scores.forEach((score, k) => {
    if (score > (scores[best] ?? 0) + 1e-9) best = k;
  });
  const total = scores.reduce((sum, score) => sum + Math.exp(score - (scores[best] ?? 0)), 0);
  return { pieces: ways[best]?.pieces ?? [], probability: 1 / total };
}

/** Log of the summed odds of all readings of a piece, each counted by the piece's share of the bar. */
function logSum({ readings, share }: Piece): number {
  const top = share * (readings[0]?.score ?? 0);
  return top + Math.log(readings.reduce((sum, r) => sum + Math.exp(share * r.score - top), 0));
}
