// Tempo and meter when nobody says them.
// In: played notes, times of attacks that are no notes. Out: readings, best first, each with tempo, meter, confidence and why.
// Method: the fastest regular pulse of the events (the step) is found by how well all events stand on it; then every usual beat
// and bar on top of it is weighed by features: does the tempo suit, do bars this long repeat their rhythm and basses, do chords
// change where they begin, do the counts of a count-in come at its beats. Weights: logistic regression on composed studies,
// tests/bench/tempo-fit.bench.ts. Sources: McKinney & Moelants 2006 (preferred tempo as a log-normal); effect:
// tests/bench/grid-heard.bench.ts. Cannot do: free time; metrical levels are a matter of taste, which is why several are told.
import { clamp, median, roundTo } from "../base/numbers.js";
import type { PlayedNote } from "../notes/played-note.js";
import { gatherEvents, type HitEvent } from "./events.js";
import type { GridReading, Meter } from "./grid.js";
import { pulseOf } from "./pulse.js";
import { TEMPO_WEIGHTS, type TempoFeature } from "./tempo-table.js";

const TEMPO_DEFAULTS = Object.freeze({
  quarterBpm: 92, // about the usual tempo of quarters and of eighths; the weights bend it
  eighthBpm: 150,
  countSpread: 0.05, // counts are this near to the beat, as share of it
  leastCounts: 2,
  countSlack: 0.16, // words are not as even as clicks
  shortestCountSec: 0.15,
  longestCountSec: 2.5,
  most: 8, // readings told
});

const STEPS_A_BEAT: readonly { steps: number; unit: number }[] = [
  { steps: 1, unit: 4 },
  { steps: 2, unit: 4 },
  { steps: 3, unit: 4 },
  { steps: 4, unit: 4 },
  { steps: 6, unit: 4 },
  { steps: 8, unit: 4 },
  { steps: 1, unit: 8 },
  { steps: 2, unit: 8 },
];

const METERS: readonly Meter[] = [
  { beats: 4, unit: 4 },
  { beats: 3, unit: 4 },
  { beats: 2, unit: 4 },
  { beats: 6, unit: 8 },
  { beats: 12, unit: 8 },
];

type Step = { hits: number; low: number | undefined; chroma: Float64Array };

/** A beat and bar that the music may be read in, and what speaks for it. */
export type TempoCandidate = {
  tempoBpm: number;
  meter: Meter;
  features: Partial<Record<TempoFeature, number>>;
};

/** Estimates tempo and meter.
 * @param options.meter known meter, if the user said it @param options.clicks times of attacks that are no notes
 * @returns best first; [] for fewer than four events; confidences sum to at most 1 */
export function estimateTempo(
  notes: readonly PlayedNote[],
  options: { meter?: Meter | undefined; clicks?: readonly number[] | undefined } = {},
): GridReading[] {
  const { candidates, clarity } = tempoCandidates(notes, options);
  const scored = candidates.map((c) => ({ ...c, score: scoreOf(c) }));
  const top = Math.max(...scored.map((c) => c.score));
  const mass = scored.reduce((sum, c) => sum + Math.exp(c.score - top), 0);
  const shares = scored.map((c) => ({ ...c, share: Math.exp(c.score - top) / mass }));
  // The tempo first, whatever the bar; then the bar.
  const ofTempo = (bpm: number): number =>
    shares.reduce((sum, c) => sum + (Math.abs(c.tempoBpm / bpm - 1) < 0.01 ? c.share : 0), 0);
  const bestTempo = shares.reduce((best, c) => Math.max(best, ofTempo(c.tempoBpm)), 0);
  const isBest = (c: { tempoBpm: number }): boolean => ofTempo(c.tempoBpm) > bestTempo - 1e-9;
  shares.sort(
    (a, b) => Number(isBest(b)) - Number(isBest(a)) || b.share - a.share || a.tempoBpm - b.tempoBpm,
  );
  const first = shares[0];
  if (first === undefined) return [];
  const others = shares.slice(1).filter((c) => Math.abs(c.tempoBpm / first.tempoBpm - 1) >= 0.01);
  const sameTempo = shares.slice(1).filter((c) => Math.abs(c.tempoBpm / first.tempoBpm - 1) < 0.01);
  return [first, ...[...others, ...sameTempo].sort((a, b) => b.share - a.share || a.tempoBpm - b.tempoBpm)]
    .slice(0, TEMPO_DEFAULTS.most)
    .map((c) => ({
      tempoBpm: roundTo(c.tempoBpm, 2),
      meter: c.meter,
      confidence: roundTo(clamp(c.share * clarity, 0, 1), 3),
      why: whyOf(c, first),
    }));
}

const scoreOf = (c: TempoCandidate): number =>
  Object.entries(c.features).reduce((sum, [name, x]) => sum + TEMPO_WEIGHTS[name as TempoFeature] * x, 0);

/** Every beat and bar that the notes may be read in, with its features; none for fewer than four events. */
export function tempoCandidates(
  notes: readonly PlayedNote[],
  options: { meter?: Meter | undefined; clicks?: readonly number[] | undefined } = {},
): { candidates: TempoCandidate[]; clarity: number } {
  const counted = countIn(options.clicks ?? [], notes);
  // What was heard of the counts is no music.
  const events = gatherEvents(notes, 0.1).filter(
    (e) => counted === undefined || e.sec > counted.musicSec - 0.1,
  );
  if (events.length < 4) return { candidates: [], clarity: 0 };
  const pulse = pulseOf(events);
  const steps = stepContents(events, notes, pulse.stepIdx);
  const bass = basses(steps);
  const bars = new Map<number, Partial<Record<TempoFeature, number>>>();
  const candidates: TempoCandidate[] = [];
  for (const { steps: stepCount, unit } of STEPS_A_BEAT)
    for (const meter of options.meter === undefined ? METERS : [options.meter]) {
      if ((meter.unit >= 8 ? 8 : 4) !== unit) continue;
      const tempoBpm = 60 / (pulse.periodSec * stepCount);
      const barSteps = stepCount * meter.beats;
      const bar = bars.get(barSteps) ?? barFeatures(steps, bass, barSteps);
      bars.set(barSteps, bar);
      const x = Math.log(tempoBpm / (unit === 8 ? TEMPO_DEFAULTS.eighthBpm : TEMPO_DEFAULTS.quarterBpm));
      const features: Partial<Record<TempoFeature, number>> = {
        ...bar,
        ...groupFeatures(steps, bass, stepCount, meter),
        ...paceFeatures(x, unit, stepCount),
        swung: swungShape(steps, stepCount, tempoBpm),
        count: counted === undefined ? 0 : countFit(counted.spacingSec, 60 / tempoBpm),
      };
      const level = `${unit === 8 ? "eighth" : "quarter"}Of${stepCount}`;
      if (level in TEMPO_WEIGHTS) features[level as TempoFeature] = 1;
      const name = `meter${meter.beats}`;
      if (options.meter === undefined && name in TEMPO_WEIGHTS) features[name as TempoFeature] = 1;
      candidates.push({ tempoBpm, meter, features });
    }
  return { candidates, clarity: pulse.clarity };
}

/** How far a tempo is from the usual one, by what divides the beat: fine steps make slow beats. @param x natural log of the ratio */
function paceFeatures(x: number, unit: number, stepsPerBeat: number): Partial<Record<TempoFeature, number>> {
  if (unit === 8)
    return stepsPerBeat === 1 ? { eighthPace: x, eighthFar: x * x } : { dividedPace: x, dividedFar: x * x };
  if (stepsPerBeat === 3) return { tripletPace: x, tripletFar: x * x };
  return stepsPerBeat > 3 ? { finePace: x, fineFar: x * x } : { quarterPace: x, quarterFar: x * x };
}

/** Time from count to count, where attacks that are no notes come evenly up to the music. */
function countIn(
  clicks: readonly number[],
  notes: readonly PlayedNote[],
): { spacingSec: number; musicSec: number } | undefined {
  const musicSec = firstLongSec(notes, clicks);
  const moments = [...clicks.filter((sec) => sec < musicSec - 0.1), musicSec];
  const { leastCounts, countSlack, shortestCountSec, longestCountSec } = TEMPO_DEFAULTS;
  let best: { spacingSec: number; length: number } | undefined;
  for (let from = 0; from + leastCounts < moments.length; from++)
    for (let to = moments.length - 1; to >= from + leastCounts; to--) {
      const gaps = moments.slice(from + 1, to + 1).map((sec, k) => sec - (moments[from + k] as number));
      const usual = median(gaps) as number;
      const even = gaps.every((g) => Math.abs(g / usual - 1) < countSlack);
      if (!even || usual < shortestCountSec || usual > longestCountSec) continue;
      const spacingSec = ((moments[to] as number) - (moments[from] as number)) / gaps.length;
      if (best === undefined || gaps.length > best.length) best = { spacingSec, length: gaps.length };
      break;
    }
  return best && { spacingSec: best.spacingSec, musicSec };
}

/** The first note that rings on, away from any click. */
function firstLongSec(notes: readonly PlayedNote[], clicks: readonly number[]): number {
  const first = notes
    .filter((n) => n.offsetSec - n.onsetSec > 0.32 && n.confidence > 0.3)
    .map((n) => n.onsetSec)
    .filter((sec) => !clicks.some((c) => Math.abs(c - sec) < 0.06))
    .sort((a, b) => a - b)[0];
  return first ?? 0;
}

/** 1 when a beat is as long as a count, falling with the distance. */
function countFit(countSec: number, beatSec: number): number {
  const x = Math.log(beatSec / countSec) / TEMPO_DEFAULTS.countSpread;
  return Math.exp(-0.5 * x * x);
}

function whyOf(reading: { tempoBpm: number }, best: { tempoBpm: number }): string {
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

/** How well bars of so many steps, counted from the first event, explain rhythm, basses and chord changes. */
function barFeatures(
  steps: readonly Step[],
  bass: readonly number[],
  barSteps: number,
): Partial<Record<TempoFeature, number>> {
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
    at[place][0] = (at[place][0] as number) + novelty(steps, k, reach);
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

/** Three steps a quick beat of which the second stays empty are swung eighths: 1, or 0. */
function swungShape(steps: readonly Step[], stepsPerBeat: number, tempoBpm: number): number {
  if (stepsPerBeat !== 3 || tempoBpm < 60) return 0;
  const used = [0, 0, 0];
  steps.forEach((s, k) => {
    if (s.hits > 0) used[k % 3] = (used[k % 3] ?? 0) + 1;
  });
  const [, second = 0, third = 0] = used;
  return third > 4 && second < 0.12 * third ? 1 : 0;
}

/** Basses, full hits and hits at all on the beats of quarter meters, on every third eighth of compound ones, against those elsewhere. */
function groupFeatures(
  steps: readonly Step[],
  bass: readonly number[],
  stepsPerBeat: number,
  meter: Meter,
): Partial<Record<TempoFeature, number>> {
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
