/** Chords of a take, bar by bar. In: placed notes and the grid. Out: spans with a symbol, root and bass each.
 * Method: every bar is cut where its chords change (chord-cuts.ts) and each piece is named by chord-fit.ts. Twice: the first naming tells the home note and the chords that the take uses, and the second reads bars whose tune hides their chord by them.
 * Cannot: name clusters, or chords of one note. */
import type { Grid, PlacedNote } from "../grid/grid.js";
import { NO_CHORD } from "../theory/chord.js";
import { CHORDS, type ChordRow } from "../theory/chord-table.js";
import { pitchClassName } from "../theory/pitch.js";
import { bestCut, type Piece, waysToCut } from "./chord-cuts.js";
import type { ChordContext, ChordReading } from "./chord-fit.js";
import { type BeatNote, melodicShare, toBeats } from "./chord-voices.js";
import type { CutFeature } from "./chord-weight-table.js";
import { homeEvidence, lowNotes, notePresence, noteStrength } from "./evidence.js";
import type { ChordSpan } from "./harmony.js";
import { weighKeys } from "./mode-model.js";

/** Share of bars with two chords or more that is reckoned with before anything is known. */
const USUAL_CUT_SHARE = 0.4;

/** Weights to name with, in the order of CHORD_FEATURES and by name; those in use when left out. */
export type NamingWeights = { chords: Float64Array; cuts: Readonly<Record<CutFeature, number>> };

/** One span or more for every bar; bars where nothing sounds are "N.C.". Names are those of no key: see spellHarmony. */
export function nameChords(notes: readonly PlacedNote[], grid: Grid, weights?: NamingWeights): ChordSpan[] {
  const { timed, context } = contextsOf(notes, grid, weights);
  return toSpans(cutBars(timed, grid, context, weights), grid);
}

/** What is known of a take before its chords are named, and after a first naming. @property timed notes by start, then by midi */
export function contextsOf(
  notes: readonly PlacedNote[],
  grid: Grid,
  weights?: NamingWeights,
): { timed: BeatNote[]; first: ChordContext; context: ChordContext } {
  const timed = notes.map((note) => toBeats(note, grid)).sort((a, b) => a.start - b.start || a.midi - b.midi);
  const presence = notePresence(notes);
  const first: ChordContext = {
    presence,
    bassUse: lowNotes(notes, grid),
    melodic: melodicShare(timed, grid.meter.beats, grid.barCount),
    cutShare: USUAL_CUT_SHARE,
  };
  const bars = cutBars(timed, grid, first, weights);
  const home = weighKeys(homeEvidence(toSpans(bars, grid), presence, noteStrength(notes)))[0];
  const context = {
    ...first,
    cutShare: bars.filter((pieces) => pieces.length > 1).length / Math.max(1, bars.length),
    ...(home && notes.length > 0 ? { tonicPc: home.tonicPc } : {}),
    used: usedChords(bars.flat()),
  };
  return { timed, first, context };
}

function cutBars(
  notes: readonly BeatNote[],
  grid: Grid,
  context: ChordContext,
  weights: NamingWeights | undefined,
): Piece[][] {
  return Array.from({ length: grid.barCount }, (_, k) => {
    const ways = waysToCut(notes, k * grid.meter.beats, grid.meter, context, weights?.chords);
    return joinEqual(bestCut(ways, context, weights?.cuts).pieces);
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
    alternatives: piece.readings.slice(1, 4).map(name),
  };
}
