/** Chords of a take, bar by bar. In: placed notes and the grid. Out: spans with a symbol, root and bass each.
 * Method: every bar is cut at beats in the way whose pieces are best named by src/harmony/chord-fit.ts, a cut costing a little. Twice: the
 * first naming tells the home note and the chords that the take uses, and the second reads bars whose tune hides their chord by them.
 * Cannot: name clusters, or chords of one note. */
import type { Grid, PlacedNote } from "../grid/grid.js";
import { NO_CHORD } from "../theory/chord.js";
import { CHORDS, type ChordRow } from "../theory/chord-table.js";
import { pitchClassName } from "../theory/pitch.js";
import { type ChordContext, type ChordReading, readChord } from "./chord-fit.js";
import { type BeatNote, hearVoices, melodicShare, toBeats } from "./chord-voices.js";
import { homeEvidence, lowNotes, notePresence, noteStrength } from "./evidence.js";
import type { ChordSpan } from "./harmony.js";
import { weighKeys } from "./mode-model.js";

/** Log odds; searched for chord recall on composed studies of seeds 100…179. */
const NAME_CHORDS_DEFAULTS = {
  cutCost: 0.35, // a change of chord within the bar must gain this
  oddCutCost: 0.9, // and this more where the bar is not halved
  manyCuts: 0.6, // share of that cost where many bars have two chords
  manyShare: 0.4, // so many
  thinCost: 1, // for each pitch class under three that a piece strikes
  unstruck: -3, // a piece in which nothing is struck
  maxPieces: 3,
} as const;

export type NameChordsOptions = Partial<Settings>;

type Settings = Record<keyof typeof NAME_CHORDS_DEFAULTS, number>;
type Piece = { fromBeat: number; toBeat: number; readings: ChordReading[]; score: number };

/** One span or more for every bar; bars where nothing sounds are "N.C.". Names are those of no key: see spellHarmony. */
export function nameChords(
  notes: readonly PlacedNote[],
  grid: Grid,
  options: NameChordsOptions = {},
): ChordSpan[] {
  const o = { ...NAME_CHORDS_DEFAULTS, ...options };
  const timed = notes.map((note) => toBeats(note, grid)).sort((a, b) => a.start - b.start || a.midi - b.midi);
  const presence = notePresence(notes);
  const plainContext: ChordContext = {
    presence,
    bassUse: lowNotes(notes, grid),
    melodic: melodicShare(timed, grid.meter.beats, grid.barCount),
  };
  const plain = cutBars(timed, grid, o, plainContext);
  const home = weighKeys(homeEvidence(toSpans(plain, grid), presence, noteStrength(notes)))[0];
  const many = plain.filter((pieces) => pieces.length > 1).length > o.manyShare * plain.length;
  const pieces = cutBars(
    timed,
    grid,
    { ...o, cutCost: o.cutCost * (many ? o.manyCuts : 1) },
    {
      ...plainContext,
      ...(home && notes.length > 0 ? { tonicPc: home.tonicPc } : {}),
      used: usedChords(plain.flat()),
    },
  );
  return toSpans(pieces, grid);
}

function cutBars(notes: readonly BeatNote[], grid: Grid, o: Settings, context: ChordContext): Piece[][] {
  return Array.from({ length: grid.barCount }, (_, k) => {
    const from = k * grid.meter.beats;
    const near = notes.filter((n) => n.start < from + grid.meter.beats && n.end > from);
    return cutBar(near, from, grid.meter, o, context);
  });
}

/** Square roots of the shares of the take that are surely a chord, its triad, the chord over its bass. */
function usedChords(pieces: readonly Piece[]): NonNullable<ChordContext["used"]> {
  const sums = new Map<string, number>();
  let total = 0;
  const add = (key: string, x: number): void => {
    sums.set(key, (sums.get(key) ?? 0) + x);
  };
  for (const piece of pieces)
    for (const r of piece.readings) {
      const weight = (piece.toBeat - piece.fromBeat) * r.probability;
      const family = CHORDS.find((row) => row.suffix === r.quality)?.family ?? "other";
      total += weight;
      add(`${r.rootPc} ${r.quality}`, weight * r.probability);
      add(`${r.rootPc} family ${family}`, weight * r.probability);
      add(`${r.rootPc} ${r.quality} ${r.bassPc}`, weight * r.probability);
    }
  const share = (key: string): number => (total > 0 ? Math.sqrt((sums.get(key) ?? 0) / total) : 0);
  // Every reading asks again: the answers are kept.
  const kept = new Map<ChordRow, (readonly [number, number, number] | undefined)[]>();
  return (rootPc: number, row: ChordRow, bassPc: number) => {
    const known = kept.get(row) ?? new Array<readonly [number, number, number] | undefined>(144);
    kept.set(row, known);
    const answer = known[rootPc * 12 + bassPc] ?? [
      share(`${rootPc} ${row.suffix}`),
      share(`${rootPc} family ${row.family}`),
      share(`${rootPc} ${row.suffix} ${bassPc}`),
    ];
    known[rootPc * 12 + bassPc] = answer as readonly [number, number, number];
    return answer as readonly [number, number, number];
  };
}

function cutBar(
  notes: readonly BeatNote[],
  from: number,
  meter: { beats: number; unit: number },
  o: Settings,
  context: ChordContext,
): Piece[] {
  const { beats } = meter;
  const isCompound = meter.unit === 8 && beats % 3 === 0;
  const step = isCompound ? 3 : 1;
  const cuts: number[] = [];
  for (let b = step; b < beats; b += step) cuts.push(b);
  const known = new Map<number, Piece>();
  const piece = (a: number, b: number): Piece => {
    const key = a * 100 + b;
    const found = known.get(key) ?? readPiece(notes, from, a, b, o, context);
    known.set(key, found);
    return found;
  };
  let best: Piece[] = [piece(0, beats)];
  let bestScore = best[0]?.score ?? 0;
  const tryCuts = (at: readonly number[]): void => {
    const edges = [0, ...at, beats];
    const pieces = edges.slice(0, -1).map((a, k) => piece(a, edges[k + 1] ?? beats));
    const isHalf = at.length === 1 && at[0] === beats / 2;
    let score = -o.cutCost * at.length - (isHalf ? 0 : o.oddCutCost);
    for (const p of pieces) score += (p.score * (p.toBeat - p.fromBeat)) / beats;
    if (score > bestScore + 1e-9) {
      best = pieces;
      bestScore = score;
    }
  };
  for (const [k, cut] of cuts.entries()) {
    tryCuts([cut]);
    if (o.maxPieces > 2) for (const later of cuts.slice(k + 1)) tryCuts([cut, later]);
  }
  return joinEqual(best);
}

/** Neighbouring pieces of one name become one. */
function joinEqual(pieces: readonly Piece[]): Piece[] {
  const out: Piece[] = [];
  for (const piece of pieces) {
    const last = out.at(-1);
    const a = last?.readings[0];
    const b = piece.readings[0];
    if (last && a && b && a.rootPc === b.rootPc && a.quality === b.quality && a.bassPc === b.bassPc)
      last.toBeat = piece.toBeat;
    else out.push({ ...piece });
  }
  return out;
}

function readPiece(
  notes: readonly BeatNote[],
  from: number,
  a: number,
  b: number,
  o: Settings,
  context: ChordContext,
): Piece {
  const voices = hearVoices(notes, from + a, from + b);
  const piece = { fromBeat: a, toBeat: b };
  const readings = readChord(voices, context);
  const best = readings[0];
  if (!best) return { ...piece, readings: [], score: o.unstruck };
  const struck = notes.filter((n) => n.start >= from + a - 0.05 && n.start < from + b - 0.05);
  // One or two notes say too little for a cut to gain by them.
  const missing = Math.max(0, 3 - new Set(struck.map((n) => n.midi % 12)).size);
  return { ...piece, readings, score: best.score - o.thinCost * missing };
}

function toSpans(bars: readonly (readonly Piece[])[], grid: Grid): ChordSpan[] {
  const spans: ChordSpan[] = [];
  bars.forEach((pieces, k) => {
    for (const piece of pieces) spans.push(toSpan(piece, k + 1, k * grid.meter.beats, grid, spans.at(-1)));
  });
  return spans;
}

function toSpan(
  piece: Piece,
  bar: number,
  fromBeat: number,
  grid: Grid,
  before: ChordSpan | undefined,
): ChordSpan {
  const at = (beat: number): number => grid.beatSec[Math.min(grid.beatSec.length - 1, fromBeat + beat)] ?? 0;
  const place = { startSec: at(piece.fromBeat), endSec: at(piece.toBeat), bar, beat: piece.fromBeat + 1 };
  const best = piece.readings[0];
  if (!best) {
    // Nothing is struck: what rang before is still the chord, if there was one.
    const held = before && before.symbol !== NO_CHORD ? before : undefined;
    return held
      ? { ...held, ...place, confidence: held.confidence * 0.6 }
      : { ...place, symbol: NO_CHORD, root: "", bass: "", confidence: 0.6, alternatives: [] };
  }
  const name = (r: ChordReading): string =>
    pitchClassName(r.rootPc) + r.quality + (r.bassPc === r.rootPc ? "" : `/${pitchClassName(r.bassPc)}`);
  return {
    ...place,
    symbol: name(best),
    root: pitchClassName(best.rootPc),
    bass: pitchClassName(best.bassPc),
    confidence: Math.min(0.99, best.probability),
    alternatives: piece.readings.slice(1).map(name),
  };
}
