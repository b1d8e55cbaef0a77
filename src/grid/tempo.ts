// Tempo and meter when nobody says them.
// In: played notes. Out: readings, best first, each with tempo, meter, confidence and why; the half and the double among them.
// Method: the fastest regular pulse of the events (the step) is found by how well all events stand on it; then every
// usual beat and bar on top of it is weighed: does the tempo suit, do bars this long repeat their rhythm and basses, do
// chords change where they begin. Sources: McKinney & Moelants 2006 (preferred tempo as a log-normal); the weights were
// set by hand on the named studies; effect: tests/bench/grid-heard.bench.ts. Cannot do: free time; metrical levels are a
// matter of taste, which is why several readings are told.
import { clamp, roundTo } from "../base/numbers.js";
import type { PlayedNote } from "../notes/played-note.js";
import { gatherEvents, type HitEvent } from "./events.js";
import type { GridReading, Meter } from "./grid.js";
import { pulseOf } from "./pulse.js";

export const TEMPO_DEFAULTS = Object.freeze({
  quarterBpm: 92, // usual tempo of quarters in fingerstyle studies, and its spread in natural logs
  quarterSpread: 0.27,
  eighthBpm: 150,
  eighthSpread: 0.26,
  repeat: 9, // nats for a bar that repeats its rhythm and basses wholly
  change: 7, // nats for chords that change at its bar lines only
  swung: 2.5, // nats for the beat of swung eighths
  most: 8, // readings told
});

/** Beats on top of the step: how many steps a beat, in which meters, at what price in nats. */
const LEVELS: readonly { steps: number; unit: number; price: number }[] = [
  { steps: 1, unit: 4, price: 2 },
  { steps: 2, unit: 4, price: 0 },
  { steps: 3, unit: 4, price: 0.8 },
  { steps: 4, unit: 4, price: 0.3 },
  { steps: 6, unit: 4, price: 2.5 },
  { steps: 8, unit: 4, price: 4 },
  { steps: 1, unit: 8, price: 0.5 },
  { steps: 2, unit: 8, price: 1.4 },
];

const METERS: readonly { meter: Meter; price: number }[] = [
  { meter: { beats: 4, unit: 4 }, price: 0 },
  { meter: { beats: 3, unit: 4 }, price: 0.6 },
  { meter: { beats: 2, unit: 4 }, price: 1.4 },
  { meter: { beats: 6, unit: 8 }, price: 0.4 },
  { meter: { beats: 12, unit: 8 }, price: 1 },
];

type Step = { hits: number; low: number | undefined; chroma: Float64Array };

/** Estimates tempo and meter.
 * @param options.meter known meter, if the user said it
 * @returns best first; [] for fewer than four events; confidences sum to at most 1 */
export function estimateTempo(
  notes: readonly PlayedNote[],
  options: { meter?: Meter | undefined } = {},
): GridReading[] {
  const events = gatherEvents(notes, 0.1);
  if (events.length < 4) return [];
  const pulse = pulseOf(events);
  const steps = stepContents(events, notes, pulse.stepIdx);
  const meters = options.meter === undefined ? METERS : [{ meter: options.meter, price: 0 }];
  const bars = new Map<number, number>();
  const scored: { reading: GridReading; score: number }[] = [];
  for (const level of LEVELS)
    for (const { meter, price } of meters) {
      if ((meter.unit >= 8 ? 8 : 4) !== level.unit) continue;
      const tempoBpm = 60 / (pulse.periodSec * level.steps);
      const barSteps = level.steps * meter.beats;
      const known = bars.get(barSteps);
      const bar = known ?? barScore(steps, barSteps);
      bars.set(barSteps, bar);
      const center = level.unit === 8 ? TEMPO_DEFAULTS.eighthBpm : TEMPO_DEFAULTS.quarterBpm;
      const spread = level.unit === 8 ? TEMPO_DEFAULTS.eighthSpread : TEMPO_DEFAULTS.quarterSpread;
      const far = Math.log(tempoBpm / center) / spread;
      const score =
        bar -
        0.5 * far * far -
        level.price -
        price +
        groupScore(steps, level.steps, meter) +
        swungScore(steps, level.steps, tempoBpm);
      scored.push({ reading: { tempoBpm: roundTo(tempoBpm, 2), meter, confidence: 0, why: "" }, score });
    }
  scored.sort((a, b) => b.score - a.score || a.reading.tempoBpm - b.reading.tempoBpm);
  const best = scored[0];
  if (best === undefined) return [];
  const mass = scored.reduce((s, c) => s + Math.exp(c.score - best.score), 0);
  return scored.slice(0, TEMPO_DEFAULTS.most).map(({ reading, score }) => ({
    ...reading,
    confidence: roundTo(clamp((Math.exp(score - best.score) / mass) * pulse.clarity, 0, 1), 3),
    why: whyOf(reading, best.reading),
  }));
}

function whyOf(reading: GridReading, best: GridReading): string {
  const ratio = reading.tempoBpm / best.tempoBpm;
  if (reading === best) return "the bars repeat and the chords change at this length";
  if (Math.abs(ratio - 2) < 0.02) return "double: twice as many beats";
  if (Math.abs(ratio - 0.5) < 0.005) return "half: half as many beats";
  if (Math.abs(ratio - 1) < 0.01) return "the same beat, another bar";
  return "another grouping of the same steps";
}

function stepContents(
  events: readonly HitEvent[],
  notes: readonly PlayedNote[],
  stepIdx: readonly number[],
): Step[] {
  const steps: Step[] = Array.from({ length: (stepIdx.at(-1) ?? 0) + 1 }, () => ({
    hits: 0,
    low: undefined,
    chroma: new Float64Array(12),
  }));
  events.forEach((e, k) => {
    const step = steps[stepIdx[k] as number];
    if (step === undefined) return;
    step.hits += e.noteIdxs.length;
    step.low = Math.min(step.low ?? 127, e.lowMidi);
    for (const idx of e.noteIdxs) {
      const pc = (((notes[idx] as PlayedNote).midi % 12) + 12) % 12;
      step.chroma[pc] = (step.chroma[pc] as number) + 1;
    }
  });
  return steps;
}

/** Height of a step's lowest note among its neighbours: 1 a bass, 0 an upper voice. */
function basses(steps: readonly Step[]): number[] {
  const lows = steps.flatMap((s) => (s.low === undefined ? [] : [s.low])).sort((a, b) => a - b);
  const bass = lows[Math.floor(lows.length * 0.12)] ?? 45;
  const middle = lows[lows.length >> 1] ?? 55;
  return steps.map((s) =>
    s.low === undefined ? 0 : clamp((middle - s.low) / Math.max(3, middle - bass), 0, 1),
  );
}

/** How well bars of so many steps, counted from the first event, explain rhythm, basses and chord changes, in nats. */
function barScore(steps: readonly Step[], barSteps: number): number {
  const n = steps.length;
  if (barSteps < 2 || n < 2 * barSteps) return -6;
  const bass = basses(steps);
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
  const repeat = all > 0 ? alike / all : 0;
  // Chord changes: novelty at bar lines against novelty everywhere else.
  const reach = Math.max(3, Math.round(barSteps / 2));
  let atLines = 0;
  let lines = 0;
  let elsewhere = 0;
  let others = 0;
  let atHalf = 0;
  let halves = 0;
  for (let k = reach; k + reach <= n; k++) {
    const change = novelty(steps, k, reach);
    if (k % barSteps === 0) {
      atLines += change;
      lines++;
    } else {
      elsewhere += change;
      others++;
      if (barSteps % 2 === 0 && k % barSteps === barSteps / 2) {
        atHalf += change;
        halves++;
      }
    }
  }
  const change =
    lines === 0 || others === 0
      ? 0
      : atLines / lines - Math.max(elsewhere / others, halves > 0 ? atHalf / halves : 0);
  // First steps of bars carry the bass.
  let opens = 0;
  let bars = 0;
  for (let k = 0; k < n; k += barSteps) {
    opens += bass[k] as number;
    bars++;
  }
  return TEMPO_DEFAULTS.repeat * repeat + TEMPO_DEFAULTS.change * change + 2 * (opens / bars);
}

function novelty(steps: readonly Step[], at: number, reach: number): number {
  const a = new Float64Array(12);
  const b = new Float64Array(12);
  for (let k = at - reach; k < at; k++) add(a, steps[k]);
  for (let k = at; k < at + reach; k++) add(b, steps[k]);
  let dot = 0;
  let aa = 1e-9;
  let bb = 1e-9;
  for (let k = 0; k < 12; k++) {
    dot += (a[k] as number) * (b[k] as number);
    aa += (a[k] as number) ** 2;
    bb += (b[k] as number) ** 2;
  }
  return 1 - dot / Math.sqrt(aa * bb);
}

function add(sum: Float64Array, step: Step | undefined): void {
  if (step === undefined) return;
  for (let k = 0; k < 12; k++) sum[k] = (sum[k] as number) + (step.chroma[k] as number);
}

/** Three steps a quick beat of which the second stays empty are swung eighths. */
function swungScore(steps: readonly Step[], stepsPerBeat: number, tempoBpm: number): number {
  if (stepsPerBeat !== 3 || tempoBpm < 60) return 0;
  const used = [0, 0, 0];
  steps.forEach((s, k) => {
    if (s.hits > 0) used[k % 3] = (used[k % 3] ?? 0) + 1;
  });
  const [, second = 0, third = 0] = used;
  return third > 4 && second < 0.12 * third ? TEMPO_DEFAULTS.swung : 0;
}

/** Basses and full hits fall on beats of quarter meters, on every third eighth of compound ones. */
function groupScore(steps: readonly Step[], stepsPerBeat: number, meter: Meter): number {
  const group = meter.unit >= 8 ? 3 * stepsPerBeat : stepsPerBeat;
  const bass = basses(steps);
  let on = 0;
  let ons = 0;
  let off = 0;
  let offs = 0;
  steps.forEach((s, k) => {
    const weight = (bass[k] as number) + 0.3 * Math.min(2, Math.max(0, s.hits - 1)) + (s.hits > 0 ? 0.2 : 0);
    if (k % group === 0) {
      on += weight;
      ons++;
    } else {
      off += weight;
      offs++;
    }
  });
  return 3 * (on / Math.max(1, ons) - off / Math.max(1, offs));
}
