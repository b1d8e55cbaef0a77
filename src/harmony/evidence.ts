/** What speaks for each pitch class being home, and which pitch classes belong to the music.
 * In: chord spans, and how surely each pitch class sounds. Out: twelve numbers of each kind, shares 0…1. Used for takes and for tracks.
 * Source: common practice, no published source, for what makes a tonic: a held bass, starts and ends, roots, cadences. */
import { mod } from "../base/numbers.js";
import type { Grid, PlacedNote } from "../grid/grid.js";
import { chordRow, parseChordSymbol, triadOf } from "../theory/chord.js";
import { pitchClassOf } from "../theory/pitch.js";
import type { ChordSpan } from "./harmony.js";

/** Shape (12) each, index = pitch class.
 * @property presence probability that the pitch class belongs to the music, not a slip or an overtone
 * @property strength share of all that sounds, sum 1
 * @property bass share of time in the bass @property held share of time in the bass while the chords over it change
 * @property root share of time as chord root @property major, minor shares of time as root of a major or minor chord
 * @property dim as root of a diminished chord @property first, last 1 for the chord at the start or end
 * @property phrase share of the four-bar beginnings (or of returns to the opening chord) @property arrival share of cadences
 * @property dominant share of chord changes that reach it from a major chord on its fifth, its leading note in it */
export type HomeEvidence = {
  presence: number[];
  strength: number[];
  bass: number[];
  held: number[];
  root: number[];
  major: number[];
  minor: number[];
  dim: number[];
  first: number[];
  last: number[];
  phrase: number[];
  arrival: number[];
  dominant: number[];
};

const zeros = (): number[] => new Array<number>(12).fill(0);
const add = (x: number[], pc: number, y: number): void => {
  x[pc] = (x[pc] ?? 0) + y;
};

// How strongly a step from one root to the next says that the second is home: semitones from the home up to the first.
// Common practice, no published source: dominant, subtonic, flat second, subdominant.
const ARRIVALS: Readonly<Record<number, number>> = { 7: 1, 10: 0.6, 1: 0.6, 5: 0.5, 2: 0.3, 8: 0.3, 11: 0.3 };

/** Evidence from chords. @param presence shape (12) @param strength shape (12), any scale */
export function homeEvidence(
  chords: readonly ChordSpan[],
  presence: readonly number[],
  strength: readonly number[],
): HomeEvidence {
  const sum = strength.reduce((a, b) => a + b, 0);
  const e: HomeEvidence = {
    presence: [...presence],
    strength: strength.map((x) => (sum > 0 ? x / sum : 0)),
    bass: zeros(),
    held: zeros(),
    root: zeros(),
    major: zeros(),
    minor: zeros(),
    dim: zeros(),
    first: zeros(),
    last: zeros(),
    phrase: zeros(),
    arrival: zeros(),
    dominant: zeros(),
  };
  const spans = chords.flatMap((c) => {
    const root = pitchClassOf(c.root);
    const bass = pitchClassOf(c.bass);
    const sec = c.endSec - c.startSec;
    return root === undefined || bass === undefined || sec <= 0
      ? []
      : [{ ...c, rootPc: root, bassPc: bass, sec }];
  });
  const total = spans.reduce((sum, s) => sum + s.sec, 0);
  if (total <= 0) return e;
  for (const s of spans) {
    const share = s.sec / total;
    add(e.bass, s.bassPc, share);
    add(e.root, s.rootPc, share);
    const family = triadOf(s.symbol)?.family;
    if (family === "maj") add(e.major, s.rootPc, share);
    else if (family === "min") add(e.minor, s.rootPc, share);
    else if (/dim|m7b5/.test(s.symbol)) add(e.dim, s.rootPc, share);
  }
  // Held basses: runs of one bass under two or more roots.
  for (let from = 0; from < spans.length; ) {
    let to = from;
    while (to + 1 < spans.length && spans[to + 1]?.bassPc === spans[from]?.bassPc) to++;
    const run = spans.slice(from, to + 1);
    if (new Set(run.map((s) => s.rootPc)).size > 1) for (const s of run) add(e.held, s.bassPc, s.sec / total);
    from = to + 1;
  }
  const first = spans[0];
  const last = spans.at(-1);
  if (first) {
    add(e.first, first.rootPc, 0.6);
    add(e.first, first.bassPc, 0.4);
  }
  if (last) {
    add(e.last, last.rootPc, 0.6);
    add(e.last, last.bassPc, 0.4);
  }
  phrases(spans, e);
  let strengths = 0;
  let changes = 0;
  spans.slice(1).forEach((s, k) => {
    const before = spans[k];
    if (!before || before.rootPc === s.rootPc) return;
    const strength = ARRIVALS[mod(before.rootPc - s.rootPc, 12)] ?? 0;
    strengths += strength;
    changes++;
    add(e.arrival, s.rootPc, strength);
    if (mod(before.rootPc - s.rootPc, 12) === 7)
      add(e.dominant, s.rootPc, dominance(before.symbol, s.symbol));
  });
  if (changes > 0) e.dominant = e.dominant.map((x) => x / changes);
  if (strengths > 0) e.arrival = e.arrival.map((x) => x / strengths);
  return e;
}

/** A plain major chord a fifth above a major one may as well be home itself, with the other as its fourth degree: it says less. */
const PLAIN_DOMINANT = 0.3;

/** How surely a chord leads to the next, a fifth below, as its dominant, 0…1. */
function dominance(symbol: string, next: string): number {
  if (triadOf(symbol)?.family !== "maj") return 0;
  const quality = parseChordSymbol(symbol)?.quality ?? "";
  const isSeventh = chordRow(quality)?.steps.includes(10) ?? false;
  return isSeventh || triadOf(next)?.family === "min" ? 1 : PLAIN_DOMINANT;
}

type Span = ChordSpan & { rootPc: number; bassPc: number; sec: number };

/** Four-bar beginnings where bars are known; else long chords weigh as likely beginnings. */
function phrases(spans: readonly Span[], e: HomeEvidence): void {
  const starts = spans.filter((s) => s.bar > 0 && s.beat === 1 && (s.bar - 1) % 4 === 0);
  const used = starts.length > 0 ? starts : spans.filter((s) => s.symbol === spans[0]?.symbol);
  for (const s of used) {
    add(e.phrase, s.rootPc, 0.5 / used.length);
    add(e.phrase, s.bassPc, 0.5 / used.length);
  }
}

const PRESENCE_DEFAULTS = {
  ghostShare: 0.006, // so many of a listener's notes may be of a pitch class that is not there
  sureCount: 1.1, // sure notes more than that make a pitch class present with probability 1 − 1/e
} as const;

/** Probability that each pitch class belongs to the take, from its notes; shape (12). */
export function notePresence(notes: readonly PlacedNote[]): number[] {
  const count = zeros();
  for (const note of notes)
    add(count, mod(note.midi, 12), note.confidence * (0.5 + 0.5 * note.velocity) * 1.2);
  const ghosts = PRESENCE_DEFAULTS.ghostShare * notes.length;
  return count.map((n) => 1 - Math.exp(-Math.max(0, n - ghosts) / PRESENCE_DEFAULTS.sureCount));
}

/** How much of each pitch class sounds, by number of sure notes; shape (12). */
export function noteStrength(notes: readonly PlacedNote[]): number[] {
  const x = zeros();
  for (const note of notes) add(x, mod(note.midi, 12), note.confidence * (0.5 + 0.5 * note.velocity));
  return x;
}

/** Lowest notes bar by bar: shares of bars that a pitch class opens as the bass; shape (12). */
export function lowNotes(notes: readonly PlacedNote[], grid: Grid): number[] {
  const x = zeros();
  for (let bar = 1; bar <= grid.barCount; bar++) {
    const inBar = notes.filter((n) => n.bar === bar);
    const lowest = inBar.reduce<PlacedNote | undefined>(
      (low, n) => (!low || n.midi < low.midi ? n : low),
      undefined,
    );
    if (lowest) add(x, mod(lowest.midi, 12), 1 / grid.barCount);
  }
  return x;
}
