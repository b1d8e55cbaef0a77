/** The player's path again, now that his tempo is known.
 * In: Score with ticks, onset peaks, seconds a tick over the take (from the first path). Out: a path that keeps time.
 * Method: Viterbi search with durations (explicit-duration hidden Markov model, Ferguson 1980; Rabiner 1989, section IV D): the step
 * from event to event costs what it departs from the tempo; a longer wait costs a fixed sum; jumps as in coarse.ts.
 * Memory: one 16-bit pointer a cell; the scores themselves only as far back as the longest step. */

import { median } from "../base/numbers.js";
import type { EvidenceMap } from "../notes/played-note.js";
import {
  barEdges,
  COARSE_DEFAULTS,
  type CoarsePath,
  jumpScale,
  pitchSets,
  setGains,
  strideFor,
  type Visit,
} from "./coarse.js";
import { peakMap } from "./evidence.js";
import type { Score } from "./written.js";

const TEMPO_PATH_DEFAULTS = Object.freeze({
  pauseCost: 8, // logits: a note missed and another one lost
  midBarPause: 8, // on top, inside a bar: what is played besides mostly stands between bars
  looseSec: 0.03, // spread of a step: jitter of both ends on a clock of 23 ms …
  looseShare: 0.1, // … and a tenth of the step, for slowing
  widest: 3, // spreads; beyond, a wait is cheaper
  longestSec: 2.5, // longer steps are waits
  ownShare: 0.7, // of an event's written length must pass before it is left for a wait
  smoothSec: 6, // tempo is the median over this much on each side
  tempoRange: 1.6, // tempo against the usual one; beyond it is a pause or a stumble
  slopeTicks: 48, // tempo is measured over two beats
});

/** Seconds a tick at each step of the clock, from a path; undefined when the path is too short to say. */
export function pulseOverTime(
  score: Score,
  path: CoarsePath,
  steps: number,
  stepSec: number,
): Float64Array | undefined {
  const { smoothSec, slopeTicks } = TEMPO_PATH_DEFAULTS;
  const slopes: { sec: number; slope: number }[] = [];
  const visits = path.visits;
  for (let i = 0; i < visits.length; i++)
    for (let j = i + 1; j < visits.length; j++) {
      const [a, b] = [visits[i] as Visit, visits[j] as Visit];
      if (b.eventIdx - a.eventIdx !== j - i) break;
      const ticks = (score.events[b.eventIdx]?.startTick ?? 0) - (score.events[a.eventIdx]?.startTick ?? 0);
      if (ticks < slopeTicks) continue;
      slopes.push({ sec: (a.sec + b.sec) / 2, slope: (b.sec - a.sec) / ticks });
      break;
    }
  if (slopes.length < 4) return undefined;
  const overall = median(slopes.map((s) => s.slope)) as number;
  const out = new Float64Array(steps).fill(overall);
  const sane = slopes.filter(
    (s) =>
      s.slope > overall / TEMPO_PATH_DEFAULTS.tempoRange &&
      s.slope < overall * TEMPO_PATH_DEFAULTS.tempoRange,
  ); // no pauses
  const every = Math.max(1, Math.round(0.5 / stepSec));
  for (let k = 0; k < steps; k += every) {
    const near = sane.filter((s) => Math.abs(s.sec - k * stepSec) < smoothSec).map((s) => s.slope);
    const here = near.length >= 6 ? (median(near) as number) : overall;
    out.fill(here, k, k + every);
  }
  return out;
}

const WAIT = 0; // entered from `inside` of the event before
const JUMP = 0x7ffe;
const RIPE = 0x8000; // flag: `inside` here came from an entering that has ripened

/** Best path that keeps time.
 * @param first the path of coarse.ts; returned as it is when it says nothing of the tempo */
export function tempoPath(score: Score, map: EvidenceMap, transpose: number, first: CoarsePath): CoarsePath {
  const scale = jumpScale(score);
  const C = {
    ...COARSE_DEFAULTS,
    forwardJump: COARSE_DEFAULTS.forwardJump * scale,
    backwardJump: COARSE_DEFAULTS.backwardJump * scale,
    startLater: COARSE_DEFAULTS.startLater * scale,
    endEarly: COARSE_DEFAULTS.endEarly * scale,
  };
  const T = TEMPO_PATH_DEFAULTS;
  const eventCount = score.events.length;
  const stride = strideFor(score, map);
  const stepSec = stride * map.frameSec;
  const { rows: mapRows, logits } = peakMap(map, stride);
  const minGap = Math.max(1, Math.round((C.minGapSteps * C.strideFrames) / stride));
  const rows = mapRows + Math.ceil(T.longestSec / stepSec); // so that the last pluck can ripen
  const pulse = pulseOverTime(score, first, rows, stepSec);
  if (pulse === undefined || eventCount === 0) return first;
  const { sets, setOf } = pitchSets(score, map, transpose);
  const { barOfStart, endsBar, startCount } = barEdges(score);
  const stepTicks = Float64Array.from(
    score.events,
    (event, e) => event.startTick - (score.events[e - 1]?.startTick ?? 0),
  );

  const depth = Math.ceil(T.longestSec / stepSec) + 1;
  const entered = new Float32Array(eventCount * depth).fill(Number.NEGATIVE_INFINITY); // ring of each event, in a row
  const inside = new Float64Array(eventCount).fill(Number.NEGATIVE_INFINITY);
  const pending = new Float64Array(eventCount);
  const back = new Uint16Array(rows * eventCount);
  const jumpFrom = new Int32Array(rows * startCount).fill(-2);
  const suffix = new Int32Array(eventCount + 1);
  const gains = new Float64Array(sets.length);
  // An event may be left for a wait, a jump or the end once most of its own step has passed: a wait is never a short cut.
  // The usual tempo serves here: a delay that changed from row to row would skip enterings.
  const usual = median(pulse) as number;
  const ripeAfter = Int32Array.from(score.events, (_, e) => {
    const own = e + 1 < eventCount ? ((stepTicks[e + 1] as number) * usual) / stepSec : minGap;
    return Math.min(depth - 1, Math.max(minGap, Math.round(T.ownShare * own)));
  });
  const leave = (e: number): number => (inside[e] as number) - (endsBar[e] === 1 ? 0 : C.midBarJump);

  for (let k = 0; k < rows; k++) {
    setGains(sets, logits, mapRows, map.pitchCount, k, gains);
    suffix[eventCount] = -1;
    for (let e = eventCount - 1; e >= 0; e--) {
      const next = suffix[e + 1] as number;
      suffix[e] = next < 0 || leave(e) >= leave(next) ? e : next;
    }
    const ringAt = k % depth;
    let prefix = -1;
    for (let e = 0; e < eventCount; e++) {
      let from = Number.NEGATIVE_INFINITY;
      let how = WAIT;
      if (e > 0) {
        from = (inside[e - 1] as number) - T.pauseCost - ((barOfStart[e] as number) >= 0 ? 0 : T.midBarPause);
        const wanted = ((stepTicks[e] as number) * (pulse[k] as number)) / stepSec;
        const loose = T.looseSec / stepSec + T.looseShare * wanted;
        const low = Math.max(1, Math.ceil(wanted - T.widest * loose));
        const high = Math.min(k, depth - 1, Math.floor(wanted + T.widest * loose));
        const ringOf = (e - 1) * depth;
        for (let d = low; d <= high; d++) {
          const at = ringAt - d < 0 ? ringAt - d + depth : ringAt - d;
          const stray = (d - wanted) / loose;
          const value = (entered[ringOf + at] as number) - 0.5 * stray * stray;
          if (value > from) {
            from = value;
            how = d;
          }
        }
      }
      const startIdx = barOfStart[e] as number;
      if (startIdx >= 0) {
        let source = -1;
        let best = e === 0 ? 0 : -C.startLater;
        if (prefix >= 0 && leave(prefix) - C.forwardJump > best) {
          best = leave(prefix) - C.forwardJump;
          source = prefix;
        }
        const later = suffix[e] as number;
        if (later >= 0 && leave(later) - C.backwardJump > best) {
          best = leave(later) - C.backwardJump;
          source = later;
        }
        if (best > from) {
          from = best;
          how = JUMP;
          jumpFrom[k * startCount + startIdx] = source;
        }
      }
      const delay = ripeAfter[e] as number;
      const ripeAt = ringAt - delay < 0 ? ringAt - delay + depth : ringAt - delay;
      pending[e] = k >= delay ? (entered[e * depth + ripeAt] as number) : Number.NEGATIVE_INFINITY;
      entered[e * depth + ringAt] = from + (gains[setOf[e] as number] as number);
      back[k * eventCount + e] = how;
      if (e > 0 && (prefix < 0 || leave(e - 1) > leave(prefix))) prefix = e - 1;
    }
    for (let e = 0; e < eventCount; e++)
      if ((pending[e] as number) > (inside[e] as number)) {
        inside[e] = pending[e] as number;
        back[k * eventCount + e] = (back[k * eventCount + e] as number) | RIPE;
      }
  }

  let eventIdx = eventCount - 1;
  const closing = (e: number): number => leave(e) - (e === eventCount - 1 ? 0 : C.endEarly);
  for (let e = eventCount - 2; e >= 0; e--) if (closing(e) > closing(eventIdx)) eventIdx = e;
  const total = closing(eventIdx);
  if (total === Number.NEGATIVE_INFINITY) return first;
  const visits: Visit[] = [];
  let k = rows - 1;
  let waiting = true; // standing in `inside`; otherwise exactly at the entering step k
  while (k >= 0) {
    const pointer = back[k * eventCount + eventIdx] as number;
    if (waiting) {
      if ((pointer & RIPE) !== 0) {
        k -= ripeAfter[eventIdx] as number;
        waiting = false;
      } else k--;
      continue;
    }
    visits.push({ eventIdx, sec: (k + 0.5) * stepSec });
    const how = pointer & 0x7fff;
    if (how === JUMP) {
      const source = jumpFrom[k * startCount + (barOfStart[eventIdx] as number)] as number;
      if (source < 0) break;
      eventIdx = source;
      k--;
      waiting = true;
    } else {
      eventIdx--;
      waiting = how === WAIT;
      k -= waiting ? 1 : how;
    }
  }
  return { visits: visits.reverse(), score: total };
}
