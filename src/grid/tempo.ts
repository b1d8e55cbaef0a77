// Tempo and meter when nobody says them.
// In: played notes, times of attacks that are no notes. Out: readings, best first, each with tempo, meter, confidence and why.
// Method: the fastest regular pulse of the events (the step) is found by how well all events stand on it; then every usual beat
// and bar on top of it is weighed by features (tempo-features.ts, tempo-breaks.ts), and by whether the counts of a count-in come at its
// beats. Weights: logistic regression on composed studies, tests/bench/tempo-fit.bench.ts. Effect: tests/bench/tempo.bench.ts and
// grid-heard.bench.ts. Cannot do: free time; metrical levels are a matter of taste, which is why several are told.
import { median, roundTo } from "../base/numbers.js";
import type { PlayedNote } from "../notes/played-note.js";
import { gatherEvents } from "./events.js";
import type { GridReading, Meter } from "./grid.js";
import { pulseOf } from "./pulse.js";
import { breakFeatures, breaksOf, halvesOf } from "./tempo-breaks.js";
import {
  barFeatures,
  basses,
  beatFeatures,
  chromaBefore,
  comingBack,
  groupFeatures,
  ofDivision,
  paceFeatures,
  phraseFeatures,
  stepContents,
  swungShape,
} from "./tempo-features.js";
import { TEMPO_WEIGHTS, type TempoFeature } from "./tempo-table.js";

const TEMPO_DEFAULTS = Object.freeze({
  countSpread: 0.05, // counts are this near to the beat, as share of it
  leastCounts: 2,
  countSlack: 0.16, // words are not as even as clicks
  shortestCountSec: 0.15,
  longestCountSec: 2.5,
  clearPulse: 0.8, // clarity from which nothing speaks against a pulse: jitter and mishearings leave as much
  most: 8, // readings told
});

const STEPS_A_BEAT: readonly { steps: number; unit: number }[] = [
  { steps: 1, unit: 4 },
  { steps: 2, unit: 4 },
  { steps: 3, unit: 4 },
  { steps: 4, unit: 4 },
  { steps: 5, unit: 4 }, // a light swing of three to two
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
  const others = shares.slice(1).sort((a, b) => b.share - a.share || a.tempoBpm - b.tempoBpm);
  return [first, ...others].slice(0, TEMPO_DEFAULTS.most).map((c) => ({
    tempoBpm: roundTo(c.tempoBpm, 2),
    meter: c.meter,
    confidence: Math.floor(1000 * c.share * Math.min(1, clarity / TEMPO_DEFAULTS.clearPulse)) / 1000, // down: the sum stays under 1
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
  const back = comingBack(steps);
  const chroma = chromaBefore(steps);
  const breaks = breaksOf(steps);
  const halves = halvesOf(events, pulse);
  const bars = new Map<number, Partial<Record<TempoFeature, number>>>();
  const candidates: TempoCandidate[] = [];
  for (const { steps: stepCount, unit } of STEPS_A_BEAT)
    for (const meter of options.meter === undefined ? METERS : [options.meter]) {
      if ((meter.unit >= 8 ? 8 : 4) !== unit) continue;
      const tempoBpm = 60 / (pulse.periodSec * stepCount);
      const barSteps = stepCount * meter.beats;
      const bar = bars.get(barSteps) ?? {
        ...barFeatures(steps, bass, chroma, barSteps),
        ...phraseFeatures(steps, back, barSteps),
      };
      bars.set(barSteps, bar);
      const ofGroup = {
        ...groupFeatures(steps, bass, stepCount, meter),
        ...beatFeatures(steps, bass, back, unit === 8 ? 3 * stepCount : stepCount),
      };
      const features: Partial<Record<TempoFeature, number>> = {
        ...bar,
        ...ofGroup,
        ...ofDivision(ofGroup, unit, stepCount),
        ...breakFeatures(breaks, halves, { stepsPerBeat: stepCount, unit }),
        ...paceFeatures(tempoBpm, unit, stepCount),
        swung: swungShape(steps, stepCount, tempoBpm),
        count: counted === undefined ? 0 : countFit(counted.spacingSec, 60 / tempoBpm),
      };
      const name = `meter${meter.beats}`;
      if (options.meter === undefined && name in TEMPO_WEIGHTS) features[name as TempoFeature] = 1;
      candidates.push({ tempoBpm, meter, features });
    }
  return { candidates, clarity: pulse.clarity };
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
