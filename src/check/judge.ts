/** Was each written note played: a probability from what the recording says around its moment.
 * In: Alignment, Listening. Out: one Asked a written note and time through.
 * Method: logistic regression (Cox 1958) on the onset peak, the sounding before and after, the siblings, what could mask it and
 * what else begins there; weights in judge-table.ts. A note is asked within reach of its event, never past half way to its neighbour. */
import { clamp, sigmoid } from "../base/numbers.js";
import type { Listening } from "../notes/played-note.js";
import type { Sheet } from "../sheet/sheet.js";
import type { AlignedEvent, Alignment } from "./align.js";
import { peakBetween, soundingBetween } from "./evidence.js";
import { THERE_WEIGHTS } from "./judge-table.js";
import { siblingBars, siblingLogit } from "./siblings.js";
import { type Timeline, timelineOf } from "./timeline.js";

export const JUDGE_DEFAULTS = Object.freeze({
  reachSec: 0.06, // the usual window of onset scoring (50 ms) and a frame
  rollReachSec: 0.12, // four strings and more may be rolled
  rollFrom: 4,
  neighbourShare: 0.45, // of the gap to the next event with the same pitch
  strumSec: 0.035, // two onsets of one pluck lie within this
});

/** Partials of a struck string that the listener takes for notes: octave, twelfth, double octave, its third, third octave less a fourth. */
export const PARTIALS: readonly number[] = Object.freeze([12, 19, 24, 28, 31]);

/** One written note at one time through.
 * @property there probability that it was played @property audible false when the listener does not cover its pitch
 * @property masked a written note struck together with it holds its pitch as a partial */
export type Asked = {
  noteIdx: number;
  eventIdx: number;
  midi: number;
  sec: number;
  peakLogit: number;
  there: number;
  audible: boolean;
  masked: boolean;
  features: number[];
};

/** How far around an event its notes are looked for, seconds before and after. */
export function reachOf(
  events: readonly AlignedEvent[],
  eventIdx: number,
  midi: number,
  midiOf: readonly number[],
): [number, number] {
  const { reachSec, rollReachSec, rollFrom, neighbourShare } = JUDGE_DEFAULTS;
  const sec = events[eventIdx]?.sec ?? 0;
  const reach = (events[eventIdx]?.noteIdxs.length ?? 1) >= rollFrom ? rollReachSec : reachSec;
  let before: number = reach;
  let after: number = reach;
  for (const [step, at] of [
    [-1, eventIdx - 1],
    [1, eventIdx + 1],
  ] as const) {
    const other = events[at];
    if (other?.sec === undefined || !other.noteIdxs.some((i) => midiOf[i] === midi)) continue;
    const gap = Math.abs(other.sec - sec) * neighbourShare;
    if (step < 0) before = Math.min(before, gap);
    else after = Math.min(after, gap);
  }
  return [before, after];
}

/** Names of the features, in the order of the weights after the constant. */
export const THERE_FEATURES = [
  "onset",
  "after",
  "rise",
  "siblings",
  "hasSiblings",
  "masked",
  "others",
  "rival",
] as const;

/** Weighted sum made a probability. weights[0] is the constant. */
export function logistic(weights: readonly number[], features: readonly number[]): number {
  let z = weights[0] ?? 0;
  features.forEach((x, i) => {
    z += (weights[i + 1] ?? 0) * x;
  });
  return sigmoid(z);
}

/** The strongest onset near a moment of a pitch that is not written there and could be the written one on another fret: within
 * five semitones or an octave. */
function rivalLogit(
  listening: Listening,
  midi: number,
  written: ReadonlySet<number>,
  fromSec: number,
  toSec: number,
): number {
  let best = -6;
  for (const step of [-5, -4, -3, -2, -1, 1, 2, 3, 4, 5, -12, 12]) {
    if (written.has(midi + step)) continue;
    const peak = peakBetween(listening.evidence, midi + step, fromSec, toSec);
    if (peak && peak.logit > best) best = peak.logit;
  }
  return best;
}

/** Ask the recording about every written note that was aligned. */
export function askNotes(sheet: Sheet, listening: Listening, alignment: Alignment): Asked[] {
  const { events, midiOf, score } = alignment;
  const map = listening.evidence;
  const line: Timeline = timelineOf(events);
  const siblings = siblingBars(score, sheet);
  const asked: Asked[] = [];
  events.forEach((event, eventIdx) => {
    if (event.sec === undefined) return;
    const written = new Set(event.noteIdxs.map((i) => midiOf[i] as number));
    for (const noteIdx of event.noteIdxs) {
      const midi = midiOf[noteIdx] as number;
      const [before, after] = reachOf(events, eventIdx, midi, midiOf);
      const early = sheet.notes[noteIdx]?.marks.includes("grace") ? 0.12 : 0;
      const peak = peakBetween(map, midi, event.sec - before - early, event.sec + after);
      const sec = peak && peak.logit > -3 ? peak.sec : event.sec;
      const soundAfter = soundingBetween(map, midi, sec + 0.03, sec + 0.16) ?? 0;
      const soundBefore = soundingBetween(map, midi, sec - 0.14, sec - 0.04) ?? -6;
      const sibling = siblingLogit(
        score,
        siblings[event.barIdx] ?? [],
        line,
        map,
        event.startTick - (score.bars[event.barIdx]?.startTick ?? 0),
        midi,
      );
      const masked = PARTIALS.some((p) => written.has(midi - p));
      const features = [
        clamp(peak?.logit ?? 0, -6, 5),
        clamp(soundAfter, -5, 5),
        clamp(soundAfter - clamp(soundBefore, -5, 5), -5, 5),
        sibling ?? 0,
        sibling === undefined ? 0 : 1,
        masked ? 1 : 0,
        Math.min(4, written.size - 1),
        clamp(rivalLogit(listening, midi, written, event.sec - before, event.sec + after), -6, 5),
      ];
      asked.push({
        noteIdx,
        eventIdx,
        midi,
        sec,
        peakLogit: peak?.logit ?? -8,
        there: peak ? logistic(THERE_WEIGHTS, features) : 0.5,
        audible: peak !== undefined,
        masked,
        features,
      });
    }
  });
  return asked;
}
