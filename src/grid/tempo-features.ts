// What speaks for a beat and a bar, as features of a reading: rhythm, basses and chords that come back at the length of the bar or the
// beat, music that comes back after so many bars, where the take ends, how quick the beat would be.
// In: events by time with the step each stands on. Out: numbers by name; tempo-table.ts weighs them. Sources: preferred tempo as a
// log-normal, McKinney & Moelants 2006; phrases of four or eight bars and an end on the first beat are common practice, no published source.
import { clamp } from "../base/numbers.js";
import type { PlayedNote } from "../notes/played-note.js";
import type { HitEvent } from "./events.js";
import type { Meter } from "./grid.js";
import { TEMPO_WEIGHTS, type TempoFeature } from "./tempo-table.js";

const FEATURE_DEFAULTS = Object.freeze({
  quarterBpm: 92, // about the usual tempo of quarters and of eighths; the weights bend it
  eighthBpm: 150,
  slowBpm: 60, // quarters slower or quicker than these are rare in such studies: common practice, no published source
  quickBpm: 120,
  leastLag: 8, // steps after which music may come back
  mostLag: 256, // sixteen bars of sixteen steps
  lagShare: 0.6, // of the take: enough must be left to compare
  comesBack: 0.5, // pitches in common over pitches in either, from which music has come back
  nearBest: 0.9, // the shortest lag this near to the best one is it
  endHits: 3, // notes of a last chord
});

const LOWEST_MIDI = 28; // a bass string tuned down to E1: 64 pitches from here fill two words

/** @property pitches bit set of the pitches struck, from `LOWEST_MIDI` on */
export type Step = {
  hits: number;
  low: number | undefined;
  top: number;
  chroma: Float64Array;
  pitches: [number, number];
};

type Features = Partial<Record<TempoFeature, number>>;

const levelOf = (unit: number, stepsPerBeat: number): string =>
  `${unit === 8 ? "eighth" : "quarter"}Of${stepsPerBeat}`;

/** What basses, hits and figures on the beat say once more for the usual divisions of a beat: a figure of triplets fills a beat where one of
 * eighths fills a bar. */
export function ofDivision(ofGroup: Features, unit: number, stepsPerBeat: number): Features {
  const level = levelOf(unit, stepsPerBeat);
  if (!(`${level}Bass` in TEMPO_WEIGHTS)) return {};
  const { bassOnGroup = 0, hitOnGroup = 0, beatContour = 0, beatPitches = 0 } = ofGroup;
  return {
    [`${level}Bass`]: bassOnGroup,
    [`${level}Hit`]: hitOnGroup,
    [`${level}Contour`]: beatContour,
    [`${level}Pitches`]: beatPitches,
  };
}

/** How far a tempo is from the usual one, by what divides the beat: fine steps make slow beats. */
export function paceFeatures(tempoBpm: number, unit: number, stepsPerBeat: number): Features {
  const { quarterBpm, eighthBpm, slowBpm, quickBpm } = FEATURE_DEFAULTS;
  const level = levelOf(unit, stepsPerBeat);
  const x = Math.log(tempoBpm / (unit === 8 ? eighthBpm : quarterBpm));
  const pace = { [level]: 1, [`${level}Pace`]: x, [`${level}Far`]: x * x };
  if (unit === 8) return pace;
  return {
    ...pace,
    slow: Math.max(0, Math.log(slowBpm / tempoBpm)),
    quick: Math.max(0, Math.log(tempoBpm / quickBpm)),
  };
}

/** What sounds on every step from the first to the last. @param stepIdx step of each event */
export function stepContents(
  events: readonly HitEvent[],
  notes: readonly PlayedNote[],
  stepIdx: readonly number[],
): Step[] {
  const steps: Step[] = Array.from({ length: (stepIdx.at(-1) ?? 0) + 1 }, () => ({
    hits: 0,
    low: undefined,
    top: 0,
    chroma: new Float64Array(12),
    pitches: [0, 0],
  }));
  events.forEach((e, k) => {
    const step = steps[stepIdx[k] as number];
    if (step === undefined) return;
    step.hits += e.noteIdxs.length;
    step.low = Math.min(step.low ?? 127, e.lowMidi);
    for (const idx of e.noteIdxs) {
      const { midi } = notes[idx] as PlayedNote;
      step.top = Math.max(step.top, midi);
      const pc = ((midi % 12) + 12) % 12;
      const bit = clamp(midi - LOWEST_MIDI, 0, 63);
      step.pitches[bit >> 5] = (step.pitches[bit >> 5] as number) | (1 << (bit & 31));
      step.chroma[pc] = (step.chroma[pc] as number) + 1;
    }
  });
  return steps;
}

/** Height of a step's lowest note among its neighbours: 1 a bass, 0 an upper voice. */
export function basses(steps: readonly Step[]): number[] {
  const lows = steps.flatMap((s) => (s.low === undefined ? [] : [s.low])).sort((a, b) => a - b);
  const bass = lows[Math.floor(lows.length * 0.12)] ?? 45;
  const middle = lows[lows.length >> 1] ?? 55;
  return steps.map((s) =>
    s.low === undefined ? 0 : clamp((middle - s.low) / Math.max(3, middle - bass), 0, 1),
  );
}

/** How well bars of so many steps, counted from the first event, explain rhythm, basses and chord changes. @param chroma of `chromaBefore` */
export function barFeatures(
  steps: readonly Step[],
  bass: readonly number[],
  chroma: Float64Array,
  barSteps: number,
): Features {
  const n = steps.length;
  if (barSteps < 2 || n < 2 * barSteps) return {}; // too short to tell: nothing repeats
  let alike = 0;
  let all = 0;
  for (let k = 0; k + barSteps < n; k++) {
    const a = steps[k] as Step;
    const b = steps[k + barSteps] as Step;
    if (a.hits === 0 && b.hits === 0) continue;
    all++;
    if (a.hits === 0 || b.hits === 0) continue;
    alike +=
      1 -
      0.5 * Math.abs((bass[k] as number) - (bass[k + barSteps] as number)) -
      0.25 * Math.min(1, Math.abs(a.hits - b.hits));
  }
  // Chord changes: novelty at bar lines against novelty everywhere else.
  const reach = Math.max(3, Math.round(barSteps / 2));
  const at = { line: [0, 0], half: [0, 0], else: [0, 0] };
  for (let k = reach; k + reach <= n; k++) {
    const place = k % barSteps === 0 ? "line" : (2 * k) % barSteps === 0 ? "half" : "else";
    at[place][0] = (at[place][0] as number) + novelty(chroma, k, reach);
    at[place][1] = (at[place][1] as number) + 1;
  }
  const meanAt = (place: keyof typeof at): number =>
    (at[place][0] as number) / Math.max(1, at[place][1] as number);
  let opens = 0;
  let bars = 0;
  for (let k = 0; k < n; k += barSteps) {
    opens += bass[k] as number;
    bars++;
  }
  return {
    repeat: all > 0 ? alike / all : 0,
    change: meanAt("line") - Math.max(meanAt("else"), meanAt("half")),
    changeOverRest: meanAt("line") - meanAt("else"),
    opens: opens / bars,
  };
}

/** How often each pitch class is struck before a step: shape (steps + 1) × 12. */
export function chromaBefore(steps: readonly Step[]): Float64Array {
  const before = new Float64Array(12 * (steps.length + 1));
  steps.forEach((step, k) => {
    for (let pc = 0; pc < 12; pc++)
      before[12 * k + 12 + pc] = (before[12 * k + pc] as number) + (step.chroma[pc] as number);
  });
  return before;
}

/** How much the pitch classes of the `reach` steps before `at` differ from those of the steps after it, 0…1. */
function novelty(before: Float64Array, at: number, reach: number): number {
  let dot = 0;
  let aa = 1e-9;
  let bb = 1e-9;
  for (let pc = 0; pc < 12; pc++) {
    const middle = before[12 * at + pc] as number;
    const a = middle - (before[12 * (at - reach) + pc] as number);
    const b = (before[12 * (at + reach) + pc] as number) - middle;
    dot += a * b;
    aa += a * a;
    bb += b * b;
  }
  return 1 - dot / Math.sqrt(aa * bb);
}

/** A quick beat of three steps, or five, of which all but the first and a late one stay empty is swung eighths: 1, or 0. */
export function swungShape(steps: readonly Step[], stepsPerBeat: number, tempoBpm: number): number {
  const late = stepsPerBeat === 3 ? 2 : stepsPerBeat === 5 ? 3 : undefined;
  if (late === undefined || tempoBpm < 60) return 0;
  const used = Array.from({ length: stepsPerBeat }, () => 0);
  steps.forEach((s, k) => {
    if (s.hits > 0) used[k % stepsPerBeat] = (used[k % stepsPerBeat] ?? 0) + 1;
  });
  const onLate = used[late] ?? 0;
  const between = used.reduce((sum, n, k) => sum + (k === 0 || k === late ? 0 : n), 0);
  return onLate > 4 && between < 0.12 * onLate ? 1 : 0;
}

/** Basses, full hits and hits at all on the beats of quarter meters, on every third eighth of compound ones, against those elsewhere. */
export function groupFeatures(
  steps: readonly Step[],
  bass: readonly number[],
  stepsPerBeat: number,
  meter: Meter,
): Features {
  const group = meter.unit >= 8 ? 3 * stepsPerBeat : stepsPerBeat;
  const on = { bass: 0, full: 0, hit: 0, count: 0 };
  const off = { bass: 0, full: 0, hit: 0, count: 0 };
  steps.forEach((s, k) => {
    const side = k % group === 0 ? on : off;
    side.bass += bass[k] as number;
    side.full += Math.min(2, Math.max(0, s.hits - 1));
    side.hit += s.hits > 0 ? 1 : 0;
    side.count++;
  });
  const apart = (what: "bass" | "full" | "hit"): number =>
    on[what] / Math.max(1, on.count) - off[what] / Math.max(1, off.count);
  return { bassOnGroup: apart("bass"), fullOnGroup: apart("full"), hitOnGroup: apart("hit") };
}

/** Music that comes back, and the take's end. @property backSteps the shortest lag in steps after which the pitches come back
 * @property alike pitches in common over those in either, by lag */
export type ComingBack = { backSteps: number | undefined; alike: readonly number[] };

/** After how many steps the music comes back. */
export function comingBack(steps: readonly Step[]): ComingBack {
  const { leastLag, mostLag, lagShare, comesBack: least, nearBest } = FEATURE_DEFAULTS;
  const most = Math.min(mostLag, Math.floor(lagShare * steps.length));
  const alike = Array.from({ length: most + 1 }, (_, lag) => alikeAt(steps, lag));
  const best = Math.max(0, ...alike.slice(leastLag));
  const backSteps = best > least ? alike.findIndex((s, k) => k >= leastLag && s >= nearBest * best) : -1;
  return { backSteps: backSteps < 0 ? undefined : backSteps, alike };
}

function alikeAt(steps: readonly Step[], lag: number): number {
  let sum = 0;
  let count = 0;
  for (let k = 0; k + lag < steps.length; k++) {
    const [a, b] = (steps[k] as Step).pitches;
    const [c, d] = (steps[k + lag] as Step).pitches;
    const either = bits(a | c) + bits(b | d);
    if (either === 0) continue;
    sum += (bits(a & c) + bits(b & d)) / either;
    count++;
  }
  return count > 0 ? sum / count : 0;
}

/** How many bits of a 32-bit word are set. Source: Warren, Hacker's Delight, 2nd ed. 2013, 5-1 (from memory). */
function bits(word: number): number {
  let v = word - ((word >>> 1) & 0x55555555);
  v = (v & 0x33333333) + ((v >>> 2) & 0x33333333);
  return Math.imul((v + (v >>> 4)) & 0x0f0f0f0f, 0x01010101) >>> 24;
}

/** Whole phrases: music comes back after four or eight bars rather than after another number or within a bar; the take's last chord stands
 * on a first beat. */
export function phraseFeatures(steps: readonly Step[], back: ComingBack, barSteps: number): Features {
  const last = steps.at(-1) as Step;
  const onLine = (steps.length - 1) % barSteps === 0;
  const end: Features = {
    ends: last.hits < FEATURE_DEFAULTS.endHits ? 0 : onLine ? 1 : -1,
  };
  if (back.backSteps === undefined) return end;
  const bars = back.backSteps / barSteps;
  if (!Number.isInteger(bars)) return { ...end, brokenPhrase: 1 };
  return { ...end, phrase: bars === 4 || bars === 8 ? 1 : [2, 6, 12, 16].includes(bars) ? 0.5 : 0 };
}

/** Whether the figure of one beat comes again in the next, by pitches and by contour, against the other lengths that a beat may have. A figure
 * more often fills two beats or a bar: the weights say so. */
export function beatFeatures(
  steps: readonly Step[],
  bass: readonly number[],
  back: ComingBack,
  group: number,
): Features {
  const lags = [2, 3, 4, 6];
  const contours = lags.filter((lag) => lag !== group).map((lag) => contourAt(steps, bass, lag));
  const usual = lags.reduce((sum, lag) => sum + (back.alike[lag] ?? 0), 0) / lags.length;
  return {
    beatContour: contourAt(steps, bass, group) - Math.max(...contours),
    beatPitches: (back.alike[group] ?? 0) - usual,
  };
}

/** How much steps are like those `lag` later: struck or not, height of the lowest and highest note, several notes or one; 0…1. */
function contourAt(steps: readonly Step[], bass: readonly number[], lag: number): number {
  let sum = 0;
  let count = 0;
  for (let k = 0; k + lag < steps.length; k++) {
    const a = steps[k] as Step;
    const b = steps[k + lag] as Step;
    if (a.hits === 0 && b.hits === 0) continue;
    count++;
    if (a.hits === 0 || b.hits === 0) continue;
    const low = 0.5 * Math.abs((bass[k] as number) - (bass[k + lag] as number));
    const top = Math.min(0.5, Math.abs(a.top - b.top) / 14);
    sum += Math.max(0, 1 - low - top - 0.25 * Math.min(1, Math.abs(a.hits - b.hits)));
  }
  return count > 0 ? sum / count : 0;
}
