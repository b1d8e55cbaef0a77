/** Chords of a take, bar by bar. In: placed notes and the grid. Out: spans with a symbol, root and bass each.
 * Method: every bar is cut at beats in the way whose pieces are best named by src/harmony/chord-fit.ts, a cut costing a little;
 * notes count by how sure and how long they are, those still ringing from before count less; the bass is the lowest note that
 * begins with the piece, or a lower one held from before. Cannot: name clusters, or chords of one note. */
import { mod } from "../base/numbers.js";
import { TICKS_PER_BEAT } from "../base/ticks.js";
import type { Grid, PlacedNote } from "../grid/grid.js";
import { NO_CHORD } from "../theory/chord.js";
import { pitchClassName } from "../theory/pitch.js";
import { type ChordBonus, type ChordReading, readChord } from "./chord-fit.js";
import type { ChordSpan } from "./harmony.js";

/** Searched for chord recall on composed studies of seeds 100…155; vocabulary and costs without unit. */
export const NAME_CHORDS_DEFAULTS = {
  cutCost: 0.126, // a change of chord within the bar must gain this
  oddCutCost: 0.14, // and this more where the bar is not halved
  ringWeight: 0.165, // a note struck before the piece counts so much of one struck in it
  longestBeats: 3, // longer notes count no more
  bassTopSemitones: 17, // a bass lies within this above the lowest note of the take's basses
  maxPieces: 3,
  topNote: 1.2, // weight of the highest voice against inner ones: it is heard
  vocabulary: 0.4, // a chord that makes up the whole piece gains this, others by the root of their share
} as const;

export type NameChordsOptions = Partial<Settings>;

type Piece = { fromBeat: number; toBeat: number; readings: ChordReading[]; score: number };

/** One span or more for every bar; bars where nothing sounds are "N.C.". Names are those of no key: see spellHarmony. */
export function nameChords(
  notes: readonly PlacedNote[],
  grid: Grid,
  options: NameChordsOptions = {},
): ChordSpan[] {
  const o = { ...NAME_CHORDS_DEFAULTS, ...options };
  const timed = notes.map((note) => toBeats(note, grid)).sort((a, b) => a.start - b.start || a.midi - b.midi);
  const plain = cutBars(timed, grid, o, () => 0);
  // Once more, now that the chords of the piece are known: a bar whose tune hides its chord is read as one of them.
  const cutCost = o.cutCost * cutFactor(plain);
  const pieces = cutBars(timed, grid, { ...o, cutCost }, usedElsewhere(plain.flat(), o.vocabulary));
  const spans: ChordSpan[] = [];
  pieces.forEach((list, k) => {
    for (const piece of list) spans.push(toSpan(piece, k + 1, k * grid.meter.beats, grid, spans.at(-1)));
  });
  return spans;
}

type Settings = Record<keyof typeof NAME_CHORDS_DEFAULTS, number>;

function cutBars(notes: readonly BeatNote[], grid: Grid, o: Settings, bonus: ChordBonus): Piece[][] {
  return Array.from({ length: grid.barCount }, (_, k) => {
    const from = k * grid.meter.beats;
    const near = notes.filter((n) => n.start < from + grid.meter.beats && n.end > from);
    return cutBar(near, from, grid.meter, o, bonus);
  });
}

/** Where many bars have two chords a cut costs less. */
function cutFactor(bars: readonly (readonly Piece[])[]): number {
  const share = bars.filter((pieces) => pieces.length > 1).length / Math.max(1, bars.length);
  return share > 0.4 ? 0.6 : 1;
}

/** Bonus of chords by how much of the piece is surely theirs. */
function usedElsewhere(pieces: readonly Piece[], most: number): ChordBonus {
  const used = new Map<string, number>();
  let total = 0;
  for (const piece of pieces) {
    const [best, next] = piece.readings;
    if (!best) continue;
    const beats = piece.toBeat - piece.fromBeat;
    total += beats;
    const lead = best.score - (next?.score ?? -1);
    const sure = 1 / (1 + Math.exp(-(lead * 10 + (best.score - 0.7) * 6)));
    const key = `${best.rootPc} ${best.quality}`;
    used.set(key, (used.get(key) ?? 0) + beats * sure);
  }
  return (rootPc, quality) => {
    const share = total > 0 ? (used.get(`${rootPc} ${quality}`) ?? 0) / total : 0;
    return most * Math.sqrt(share);
  };
}

type BeatNote = { start: number; end: number; midi: number; weight: number };

/** Place of a note in beats from bar 1; it rings as long as it was heard. */
function toBeats(note: PlacedNote, grid: Grid): BeatNote {
  const start =
    note.bar < 1
      ? note.tick / TICKS_PER_BEAT - grid.pickupBeats
      : (note.bar - 1) * grid.meter.beats + note.tick / TICKS_PER_BEAT;
  const beatSec = 60 / grid.tempoBpm;
  const heard = (note.offsetSec - note.onsetSec) / beatSec;
  const end = start + Math.max(note.lengthTicks / TICKS_PER_BEAT, heard, 0.1);
  return { start, end, midi: note.midi, weight: note.confidence * (0.5 + 0.5 * note.velocity) };
}

function cutBar(
  notes: readonly BeatNote[],
  from: number,
  meter: { beats: number; unit: number },
  o: Settings,
  bonus: ChordBonus,
): Piece[] {
  const { beats } = meter;
  const isCompound = meter.unit === 8 && beats % 3 === 0;
  const step = isCompound ? 3 : 1;
  const cuts: number[] = [];
  for (let b = step; b < beats; b += step) cuts.push(b);
  const known = new Map<number, Piece>();
  const piece = (a: number, b: number): Piece => {
    const key = a * 100 + b;
    const found = known.get(key) ?? readPiece(notes, from, a, b, o, bonus);
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
  bonus: ChordBonus,
): Piece {
  const start = from + a;
  const end = from + b;
  const sounding = notes.filter((n) => n.start < end - 0.05 && n.end > start + 0.1);
  const struck = sounding.filter((n) => n.start >= start - 0.05);
  const piece = { fromBeat: a, toBeat: b };
  // One note alone says too little for a cut to gain by it.
  if (struck.length === 0) return { ...piece, readings: [], score: -0.4 };
  const bass = bassOf(sounding, struck, start, o.bassTopSemitones);
  const top = Math.max(...struck.map((n) => n.midi));
  const upper = new Array<number>(12).fill(0);
  for (const note of sounding) {
    const isStruck = note.start >= start - 0.05;
    const beats = Math.min(o.longestBeats, Math.min(note.end, end) - Math.max(note.start, start));
    const pc = mod(note.midi, 12);
    if (bass !== undefined && pc === mod(bass, 12) && note.midi <= bass + 0.5) continue;
    const isTop = isStruck && note.midi === top && note.midi >= 60;
    const weight =
      note.weight * (0.35 + Math.max(0, beats)) * (isStruck ? 1 : o.ringWeight) * (isTop ? o.topNote : 1);
    upper[pc] = (upper[pc] ?? 0) + weight;
  }
  const readings = readChord(upper, bass === undefined ? undefined : mod(bass, 12), bonus);
  const pcCount = new Set(struck.map((n) => mod(n.midi, 12))).size;
  const thin = pcCount < 3 ? 0.12 * (3 - pcCount) : 0;
  return { ...piece, readings, score: (readings[0]?.score ?? -0.4) - thin };
}

/** A struck note from F3 up, and more than a minor sixth over a held bass, is a voice of the chord and not its bass. From memory of grips. */
const HELD_UNDER_MIDI = 53;
const HELD_GAP = 8;

/** The note that is heard as the bass: lowest that begins with the piece, unless a lower one begins soon after or is held under it. */
function bassOf(
  sounding: readonly BeatNote[],
  struck: readonly BeatNote[],
  start: number,
  top: number,
): number | undefined {
  const lowest = Math.min(...sounding.map((n) => n.midi));
  const isLow = (n: BeatNote): boolean => n.midi <= lowest + top && n.midi < 60;
  const first = struck.filter((n) => n.start < start + 0.3 && isLow(n));
  const firstLow = first.length > 0 ? Math.min(...first.map((n) => n.midi)) : undefined;
  const held = sounding.filter((n) => n.start < start - 0.05 && n.end > start + 1 && isLow(n));
  const heldLow = held.length > 0 ? Math.min(...held.map((n) => n.midi)) : undefined;
  // A bass held from before stays the bass when what is struck lies far above it.
  if (
    firstLow !== undefined &&
    heldLow !== undefined &&
    firstLow >= HELD_UNDER_MIDI &&
    firstLow - heldLow > HELD_GAP
  )
    return heldLow;
  if (firstLow !== undefined) return firstLow;
  const soon = struck.filter((n) => n.start < start + 1.05 && isLow(n));
  const soonLow = soon.length > 0 ? Math.min(...soon.map((n) => n.midi)) : undefined;
  if (soonLow !== undefined && (heldLow === undefined || soonLow <= heldLow)) return soonLow;
  if (heldLow !== undefined) return heldLow;
  const later = struck.filter(isLow);
  return later.length > 0 ? Math.min(...later.map((n) => n.midi)) : undefined;
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
  const odds = piece.readings.reduce((sum, r) => sum + Math.exp((r.score - best.score) * 8), 0);
  const name = (r: ChordReading): string =>
    pitchClassName(r.rootPc) + r.quality + (r.bassPc === r.rootPc ? "" : `/${pitchClassName(r.bassPc)}`);
  return {
    ...place,
    symbol: name(best),
    root: pitchClassName(best.rootPc),
    bass: pitchClassName(best.bassPc),
    confidence: Math.min(0.99, 1 / odds),
    alternatives: piece.readings.slice(1).map(name),
  };
}
