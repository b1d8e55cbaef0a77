/** First pass of the alignment: where in the sheet is the player, moment by moment, jumps allowed.
 * In: Score, onset peaks on a clock of about 23 ms. Out: the events that were reached, in playing order, with their times.
 * Method: Viterbi search (Rabiner 1989, Proc. IEEE 77(2)) over events. Entering an event pays the onset evidence of its
 * pitches; staying is free, so tempo is free; from any event a jump to the start of any bar costs a fixed sum, dearer
 * backwards and from the middle of a bar. Notes before the start and after the end cost nothing.
 * Can't do: it knows no tempo, so inside bars that match badly its times are rough; fine.ts mends them. */
import type { EvidenceMap } from "../notes/played-note.js";
import { peakMap } from "./evidence.js";
import type { Score } from "./written.js";

export const COARSE_DEFAULTS = Object.freeze({
  strideFrames: 2, // 23 ms at a hop of 256 and 22.05 kHz: half a fast strum
  mostCells: 1.2e6, // steps times events; above, the clock is made half as fine: a minute and a half of busy playing
  minGapSteps: 3, // 70 ms: two plucks of one string are further apart
  missCost: 1.5, // logits lost when a written note has no onset at all: a bar of other music over the same pattern still about breaks even
  silentCost: 2, // on top for an event when nothing at all is plucked: other music keeps the rhythm, silence does not
  hitCap: 3, // logits: one sure note must not outweigh two doubtful ones
  forwardJump: 30, // a bar and a third of eight notes put right: anything less is bars with errors
  backwardJump: 44, // going back is rarer than leaving out: two bars put right
  waitPerSec: 1, // logits a second inside a bar: of two readings as good the closer one is meant
  midBarJump: 8, // stopping inside a bar is rarer than at its end
  startLater: 36, // beginning at another bar than the first
  endEarly: 18, // ending at another bar than the last
});

/** One event reached. */
export type Visit = { eventIdx: number; sec: number };
export type CoarsePath = { visits: Visit[]; score: number };

const ENTER = 1; // flag at (k, e): being inside e came from entering it at k − minGapSteps
const BY_JUMP = 2; // flag at (k, e): entering e at k was a jump or the start

/** Distinct pitch sets of the events: sets[setOf[event]] are columns of the evidence map. */
export function pitchSets(
  score: Score,
  map: EvidenceMap,
  transpose: number,
): { sets: number[][]; setOf: Int32Array } {
  const setOf = new Int32Array(score.events.length);
  const sets: number[][] = [];
  const setIdx = new Map<string, number>();
  score.events.forEach((event, e) => {
    const pitches = event.midis
      .map((m) => m + transpose - map.lowestMidi)
      .filter((p) => p >= 0 && p < map.pitchCount);
    const key = pitches.join(".");
    if (!setIdx.has(key)) {
      setIdx.set(key, sets.length);
      sets.push(pitches);
    }
    setOf[e] = setIdx.get(key) as number;
  });
  return { sets, setOf };
}

/** Where bars begin and end among the events. barOfStart[e] is the number of the bar that begins with e, −1 for others. */
export function barEdges(score: Score): { barOfStart: Int32Array; endsBar: Uint8Array; startCount: number } {
  const barOfStart = new Int32Array(score.events.length).fill(-1);
  const endsBar = new Uint8Array(score.events.length);
  const starts = score.bars.filter((b) => b.endEvent > b.firstEvent);
  starts.forEach((b, k) => {
    barOfStart[b.firstEvent] = k;
    endsBar[b.endEvent - 1] = 1;
  });
  return { barOfStart, endsBar, startCount: starts.length };
}

/** Frames a step of the clock for so much music. */
export const strideFor = (score: Score, map: EvidenceMap): number =>
  (map.frameCount / COARSE_DEFAULTS.strideFrames) * score.events.length > COARSE_DEFAULTS.mostCells
    ? 2 * COARSE_DEFAULTS.strideFrames
    : COARSE_DEFAULTS.strideFrames;

/** How dear a jump is in this score: COARSE_DEFAULTS speak of eight notes a bar, full bars have more to gain by jumping and
 * sparse ones less. */
export function jumpScale(score: Score): number {
  const notes = score.events.reduce((sum, e) => sum + e.midis.length, 0);
  const bars = score.bars.filter((b) => b.endEvent > b.firstEvent).length;
  return Math.max(0.5, notes / Math.max(1, bars) / 8);
}

/** Score gained by each distinct set of pitches at each step; shape (sets), filled for one step. */
export function setGains(
  sets: readonly (readonly number[])[],
  logits: Float32Array,
  rows: number,
  pitchCount: number,
  row: number,
  into: Float64Array,
): void {
  const { missCost, hitCap, silentCost } = COARSE_DEFAULTS;
  let isSilent = true;
  for (let r = Math.max(0, row - 1); r <= Math.min(rows - 1, row + 1) && isSilent; r++)
    for (let p = 0; p < pitchCount && isSilent; p++) isSilent = (logits[r * pitchCount + p] as number) < 0;
  for (let s = 0; s < sets.length; s++) {
    let gain = isSilent ? -silentCost : 0;
    for (const pitchIdx of sets[s] as readonly number[]) {
      let best = -missCost;
      for (let r = Math.max(0, row - 1); r <= row + 1 && r < rows; r++) {
        const here = Math.min(hitCap, logits[r * pitchCount + pitchIdx] as number) - (r === row ? 0 : 0.5);
        if (here > best) best = here;
      }
      gain += best;
    }
    into[s] = gain;
  }
}

/** Best path of the player through the sheet.
 * @param transpose semitones that the recording sounds above the sheet
 * @returns visits in time order; eventIdx falls where the player went back */
export function coarsePath(score: Score, map: EvidenceMap, transpose: number): CoarsePath {
  const { midBarJump } = COARSE_DEFAULTS;
  const strideFrames = strideFor(score, map);
  const minGapSteps = Math.max(
    1,
    Math.round((COARSE_DEFAULTS.minGapSteps * COARSE_DEFAULTS.strideFrames) / strideFrames),
  );
  const waitCost = COARSE_DEFAULTS.waitPerSec * strideFrames * map.frameSec; // logits/s · s/step = logits/step
  const scale = jumpScale(score);
  const forwardJump = COARSE_DEFAULTS.forwardJump * scale;
  const backwardJump = COARSE_DEFAULTS.backwardJump * scale;
  const startLater = COARSE_DEFAULTS.startLater * scale;
  const endEarly = COARSE_DEFAULTS.endEarly * scale;
  const { rows: mapRows, logits } = peakMap(map, strideFrames);
  const rows = mapRows === 0 ? 0 : mapRows + minGapSteps; // so that the last pluck can ripen
  const eventCount = score.events.length;
  if (eventCount === 0 || rows === 0) return { visits: [], score: 0 };

  const { sets, setOf } = pitchSets(score, map, transpose);
  const { barOfStart, endsBar, startCount } = barEdges(score);

  const inside = new Float64Array(eventCount).fill(Number.NEGATIVE_INFINITY); // S: in event e, long enough to leave
  const entered = new Float64Array(eventCount * minGapSteps).fill(Number.NEGATIVE_INFINITY); // ring of E
  const back = new Uint8Array(rows * eventCount);
  const jumpFrom = new Int32Array(rows * startCount).fill(-2); // −1: from before the start
  const pending = new Float64Array(eventCount);
  const suffix = new Int32Array(eventCount + 1);
  const gains = new Float64Array(sets.length);
  const leave = (e: number): number => (inside[e] as number) - (endsBar[e] === 1 ? 0 : midBarJump);

  for (let k = 0; k < rows; k++) {
    setGains(sets, logits, mapRows, map.pitchCount, k, gains);
    suffix[eventCount] = -1;
    for (let e = eventCount - 1; e >= 0; e--) {
      const next = suffix[e + 1] as number;
      suffix[e] = next < 0 || leave(e) >= leave(next) ? e : next;
    }
    const ringAt = (k % minGapSteps) * eventCount;
    let prefix = -1; // best event to jump forward from: those before e − 1
    for (let e = 0; e < eventCount; e++) {
      let from = e > 0 ? (inside[e - 1] as number) : 0;
      let byJump = e === 0;
      const startIdx = barOfStart[e] as number;
      if (startIdx >= 0) {
        let source = -1;
        let best = e === 0 ? 0 : -startLater;
        if (prefix >= 0 && leave(prefix) - forwardJump > best) {
          best = leave(prefix) - forwardJump;
          source = prefix;
        }
        const later = suffix[e] as number;
        if (later >= 0 && leave(later) - backwardJump > best) {
          best = leave(later) - backwardJump;
          source = later;
        }
        if (e === 0 || best > from) {
          from = best;
          byJump = true;
          jumpFrom[k * startCount + startIdx] = source;
        }
      }
      const ringCell = ringAt + e;
      const ripe = entered[ringCell] as number; // entered minGapSteps ago
      entered[ringCell] = from + (gains[setOf[e] as number] as number);
      const cell = k * eventCount + e;
      back[cell] = byJump ? BY_JUMP : 0;
      // Written into `inside` only below, when every event has read the step before.
      pending[e] = ripe;
      if (e > 0 && (prefix < 0 || leave(e - 1) > leave(prefix))) prefix = e - 1;
    }
    for (let e = 0; e < eventCount; e++) {
      const waited = (inside[e] as number) - (endsBar[e] === 1 ? 0 : waitCost);
      const isRipe = (pending[e] as number) > waited;
      inside[e] = isRipe ? (pending[e] as number) : waited;
      if (isRipe) back[k * eventCount + e] = (back[k * eventCount + e] as number) | ENTER;
    }
  }

  let eventIdx = eventCount - 1;
  const closing = (e: number): number => leave(e) - (e === eventCount - 1 ? 0 : endEarly);
  for (let e = eventCount - 2; e >= 0; e--) if (closing(e) > closing(eventIdx)) eventIdx = e;
  const total = closing(eventIdx);
  if (total === Number.NEGATIVE_INFINITY) return { visits: [], score: 0 };
  const visits: Visit[] = [];
  for (let k = rows - 1; k >= 0; ) {
    if (((back[k * eventCount + eventIdx] as number) & ENTER) === 0) {
      k--;
      continue;
    }
    const enteredAt = k - minGapSteps;
    visits.push({ eventIdx, sec: (enteredAt + 0.5) * strideFrames * map.frameSec });
    k = enteredAt - 1;
    if (((back[enteredAt * eventCount + eventIdx] as number) & BY_JUMP) === 0) eventIdx--;
    else {
      const startIdx = barOfStart[eventIdx] as number;
      const source = jumpFrom[enteredAt * startCount + startIdx] as number;
      if (source < 0) break;
      eventIdx = source;
    }
  }
  return { visits: visits.reverse(), score: total };
}
