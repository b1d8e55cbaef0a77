/** What sounds in a stretch of a take, by voice: the bass, other notes of the low voice, the highest voice, and what lies between.
 * In: notes in beats. Out: for each note that may be the bass, twelve weights a voice. Method: thumb and melody are told by place:
 * the low voice has nothing lower struck near it, the highest nothing higher. Cannot: follow voices that cross. */
import { mod } from "../base/numbers.js";
import { TICKS_PER_BEAT } from "../base/ticks.js";
import type { Grid, PlacedNote } from "../grid/grid.js";

/** A note in beats from bar 1; weight 0…1. */
export type BeatNote = { start: number; end: number; midi: number; weight: number };

/** @property isFirst it begins the stretch @property share of the low voice that is this pitch class, 0…1
 * @property isHeld it rings from before and is not struck @property height octaves over the lowest note that sounds */
type BassChoice = {
  pc: number;
  midi: number;
  isFirst: boolean;
  share: number;
  isHeld: boolean;
  height: number;
};

/** Shares of the whole, shape (12) each; the bass note itself is in none.
 * What rings on from before is in none either: it may be of the chord before. */
export type Voices = { bass: BassChoice; inner: number[]; top: number[]; low: number[] };

const VOICES_DEFAULTS = {
  longestBeats: 3, // longer notes count no more
  strike: 0.35, // a note counts so many beats for being struck
  lowTopMidi: 59, // basses lie under C4
  lowSpan: 14, // and within this many semitones of the lowest note
  lowNearBeats: 0.9, // a lower note struck so shortly before makes a note an inner voice
  heldUnderMidi: 53, // a note from F3 up, more than heldGap over a bass that rings on, is an inner voice
  heldGap: 7,
  topFromMidi: 60, // the highest voice lies over B3
} as const;

/** Place of a note in beats from bar 1; it rings as long as it was heard. */
export function toBeats(note: PlacedNote, grid: Grid): BeatNote {
  const start =
    note.bar < 1
      ? note.tick / TICKS_PER_BEAT - grid.pickupBeats
      : (note.bar - 1) * grid.meter.beats + note.tick / TICKS_PER_BEAT;
  const beatSec = 60 / grid.tempoBpm;
  const heard = (note.offsetSec - note.onsetSec) / beatSec;
  const end = start + Math.max(note.lengthTicks / TICKS_PER_BEAT, heard, 0.1);
  return { start, end, midi: note.midi, weight: note.confidence * (0.5 + 0.5 * note.velocity) };
}

/** Voices of a stretch over each of its possible basses; none when no note is struck. @param notes by start, then by midi */
export function hearVoices(notes: readonly BeatNote[], start: number, end: number): Voices[] {
  const o = VOICES_DEFAULTS;
  const sounding = notes.filter((n) => n.start < end - 0.05 && n.end > start + 0.1);
  const struck = sounding.filter((n) => n.start >= start - 0.05);
  if (struck.length === 0) return [];
  const lowest = Math.min(...sounding.map((n) => n.midi));
  const isLow = (n: BeatNote): boolean =>
    n.midi <= o.lowTopMidi &&
    n.midi <= lowest + o.lowSpan &&
    !struck.some((m) => m.midi < n.midi && m.start > n.start - o.lowNearBeats && m.start < n.start + 0.02) &&
    !(
      n.midi >= o.heldUnderMidi &&
      sounding.some((m) => m.midi < n.midi - o.heldGap && m.start < n.start && m.end > n.start + 0.5)
    );
  const isTop = (n: BeatNote): boolean =>
    n.midi >= o.topFromMidi &&
    !struck.some((m) => m.midi > n.midi && m.start < n.start + 1.05 && m.start > n.start - 0.55);
  const weightOf = (n: BeatNote): number => {
    const beats = Math.min(o.longestBeats, Math.min(n.end, end) - Math.max(n.start, start));
    return n.weight * (o.strike + Math.max(0, beats));
  };
  const low = struck.filter(isLow);
  const held = sounding.filter((n) => n.start < start - 0.05 && n.end > start + 1 && n.midi <= o.lowTopMidi);
  return bassChoices(low, held, start, lowest, weightOf).map((bass) => {
    const voices = { inner: zeros(), top: zeros(), low: zeros() };
    let total = 0;
    for (const n of struck) {
      const pc = mod(n.midi, 12);
      if (pc === bass.pc && n.midi <= bass.midi) continue;
      const weight = weightOf(n);
      const name = isTop(n) ? "top" : low.includes(n) ? "low" : "inner";
      const voice = voices[name];
      voice[pc] = (voice[pc] ?? 0) + weight;
      total += weight;
    }
    const share = (list: number[]): number[] => list.map((x) => (total > 0 ? x / total : 0));
    return {
      bass,
      inner: share(voices.inner),
      top: share(voices.top),
      low: share(voices.low),
    };
  });
}

const zeros = (): number[] => new Array<number>(12).fill(0);

/** Pitch classes of the low voice, and the lowest note that rings on; the lowest note of all when there is neither. */
function bassChoices(
  low: readonly BeatNote[],
  held: readonly BeatNote[],
  start: number,
  lowest: number,
  weightOf: (n: BeatNote) => number,
): BassChoice[] {
  const total = low.reduce((sum, n) => sum + weightOf(n), 0);
  const choices = new Map<number, BassChoice>();
  const choice = (midi: number): BassChoice => {
    const pc = mod(midi, 12);
    const found = choices.get(pc) ?? { pc, midi, isFirst: false, share: 0, isHeld: true, height: 0 };
    if (midi < found.midi) found.midi = midi;
    choices.set(pc, found);
    return found;
  };
  for (const n of low) {
    const c = choice(n.midi);
    c.isHeld = false;
    c.isFirst ||= n.start < start + 0.3;
    c.share += weightOf(n) / total;
  }
  if (held.length > 0) choice(Math.min(...held.map((n) => n.midi)));
  if (choices.size === 0) choice(lowest).isHeld = false;
  return [...choices.values()].map((c) => ({ ...c, height: (c.midi - lowest) / 12 }));
}

/** How much the highest voice of a take moves by step, 0…1: the share of bars in which two of its notes lie a second apart. */
export function melodicShare(notes: readonly BeatNote[], beats: number, barCount: number): number {
  let bars = 0;
  let moving = 0;
  for (let bar = 0; bar < barCount; bar++) {
    const inBar = notes.filter((n) => n.start >= bar * beats - 0.05 && n.start < (bar + 1) * beats - 0.05);
    if (inBar.length < 4) continue;
    bars++;
    const top = inBar.filter(
      (n) => n.midi >= 57 && !inBar.some((m) => m.midi > n.midi && Math.abs(m.start - n.start) < 0.05),
    );
    const line = [...new Set(top.map((n) => n.midi))].sort((a, b) => a - b);
    if (line.some((midi, k) => k > 0 && midi - (line[k - 1] ?? 0) <= 2)) moving++;
  }
  // A tune that rests on one note in some bars is still a tune.
  return bars === 0 ? 0 : Math.min(1, (1.6 * moving) / bars);
}
