// Follows the beat through a take.
// In: events (what is plucked together), what a beat is like, where the first beat is expected.
// Out: the time of every beat up to one past the last event, and how well the events fit.
// Method: Viterbi over (moment, beat length), one segment a beat, as in the bar-pointer models; an event's likelihood is
// a mixture of normals at the steps of the beat; the beat length may change from beat to beat at a price; a pause may be
// waited out, or a single beat drawn out, at a higher one. Sources: Whiteley, Cemgil & Godsill 2006 (bar pointer); Krebs, Böck & Widmer 2015 (its
// state space). Cannot do: find beats in free time; that shows as a low fit.
import { BEAT_DEFAULTS, type BeatModel } from "./beat-model.js";
import type { HitEvent } from "./events.js";

const TRACK_DEFAULTS = Object.freeze({
  waitCost: 12, // price of a pause, in nats
  drawnCost: 7, // price of a beat that is drawn out, in nats
  bassShare: 0.12, // part of the events that are basses
  landing: 3, // frames: after a drawn-out beat the music lands on the next
});

/** @property drawn beats longer than their neighbours, by index, with the length they would have had */
export type Track = { beatSec: number[]; fit: number; drawn: { beat: number; usualSec: number }[] };

/** Where the first beat may be, and the price of it in nats. */
export type StartGuess = { sec: number; cost: number };

/** The events as the tracker reads them. @property floor whole frame @property quarter in quarter frames, `margin` frames on
 * @property massBefore sum of the weights before each, shape (n + 1) @property firstFrom by frame: the first event at or after frame − margin */
type Hits = {
  count: number;
  atFrame: Float64Array;
  floor: Int32Array;
  quarter: Float64Array;
  weight: Float64Array;
  massBefore: Float64Array;
  isBass: Uint8Array;
  firstFrom: Int32Array;
};

/** How a beat was come to: one number a beat. 0 it is the first; to `DRAWN` one more than the length of the beat before it, as an index; to
 * `WAITED` a drawn-out beat of so many frames; from there on a pause of so many frames. */
const DRAWN = 1 << 10;
const WAITED = 1 << 14;

/** @param starts where the first beat may be, each at a price @param startSlackSec deviation of the first beat about them
 * @returns beatSec from the first beat; fit is the mean log likelihood (density in 1/s) of an event */
export function trackBeats(
  events: readonly HitEvent[],
  model: BeatModel,
  { starts, startSlackSec }: { starts: readonly StartGuess[]; startSlackSec: number },
): Track {
  const { hopSec, shortest, lengths, margin, stray } = model;
  const longest = shortest + lengths - 1;
  const slackFrames = Math.max(2, Math.ceil((3 * startSlackSec) / hopSec));
  const originSec = Math.min(...starts.map((s) => s.sec)) - slackFrames * hopSec;
  const lastStart = Math.max(...starts.map((s) => (s.sec - originSec) / hopSec)) + slackFrames;
  const used = events.filter((e) => e.sec >= originSec - margin * hopSec);
  const lastEvent = used.at(-1);
  const lastFrame = lastEvent === undefined ? lastStart : (lastEvent.sec - originSec) / hopSec;
  const frames = Math.ceil(lastFrame) + margin + longest + 2;
  const hits = hitsOf(used, originSec, hopSec, frames, margin);
  const drawnTo = landings(hits, frames);

  const cameBy = new Int32Array(frames * lengths);
  // Beats that begin now reach no further than the longest: a ring of so many rows holds all that is still to come.
  const ringLen = longest + 1;
  const arrive = new Float64Array(ringLen * lengths).fill(Number.NEGATIVE_INFINITY);
  const arriveFrom = new Int16Array(ringLen * lengths);
  const now = new Float64Array(lengths);
  const gains = new Float64Array(lengths);
  const best = new Float64Array(frames); // by frame, with the beat length that it is best come to with
  const likeliest = new Int16Array(frames);
  const wait = new Float64Array(lengths).fill(Number.NEGATIVE_INFINITY);
  const waitStart = new Int32Array(lengths);
  const firstEnd = Math.min(frames - 1, Math.ceil(lastFrame) + margin);
  let bestAt = -1;
  let bestScore = Number.NEGATIVE_INFINITY;
  for (let t = 0; t < frames; t++) {
    const row = t * lengths;
    const ring = (t % ringLen) * lengths;
    for (let j = 0; j < lengths; j++) {
      let score = Number.NEGATIVE_INFINITY;
      if (t <= lastStart)
        for (const start of starts) {
          const x = (originSec + t * hopSec - start.sec) / Math.max(startSlackSec, 1e-3);
          score = Math.max(score, -0.5 * x * x - start.cost - 2 * (stray[j] as number));
        }
      if ((arrive[ring + j] as number) > score) {
        score = arrive[ring + j] as number;
        cameBy[row + j] = 1 + (arriveFrom[ring + j] as number);
      }
      arrive[ring + j] = Number.NEGATIVE_INFINITY;
      now[j] = score;
    }
    if (drawnTo[t] === 1) drawOut(t, model, hits, best, likeliest, now, cameBy);
    let top = 0;
    for (let j = 0; j < lengths; j++) {
      // A pause: nothing sounds while it is waited out.
      const waited = wait[j] as number;
      const score = now[j] as number;
      if (waited > score) {
        now[j] = waited;
        cameBy[row + j] = WAITED + t - (waitStart[j] as number);
      } else if (t > lastStart && score - TRACK_DEFAULTS.waitCost > waited) {
        wait[j] = score - TRACK_DEFAULTS.waitCost;
        waitStart[j] = t;
      }
      if ((now[j] as number) > (now[top] as number)) top = j;
    }
    if ((hits.firstFrom[t + 1] as number) > (hits.firstFrom[t] as number))
      wait.fill(Number.NEGATIVE_INFINITY);
    likeliest[t] = top;
    best[t] = now[top] as number;
    if (t >= firstEnd && (best[t] as number) > bestScore) {
      bestScore = best[t] as number;
      bestAt = row + top;
    }
    if (best[t] === Number.NEGATIVE_INFINITY) continue;
    gainsFrom(t, model, hits, gains);
    goOn(t, model, now, best[t] as number, gains, arrive, arriveFrom);
  }
  const mass = hits.massBefore[hits.count] as number;
  return { ...traceBack(bestAt, cameBy, model, originSec), fit: mass > 0 ? bestScore / mass : 0 };
}

function hitsOf(
  used: readonly HitEvent[],
  originSec: number,
  hopSec: number,
  frames: number,
  margin: number,
): Hits {
  const atFrame = Float64Array.from(used, (e) => (e.sec - originSec) / hopSec);
  const weight = Float64Array.from(used, (e) => e.weight);
  const massBefore = new Float64Array(used.length + 1);
  weight.forEach((w, e) => {
    massBefore[e + 1] = (massBefore[e] as number) + w;
  });
  const bassBelow = bassLine(used);
  const firstFrom = new Int32Array(frames + 1);
  let first = 0;
  for (let t = 0; t <= frames; t++) {
    while (first < atFrame.length && (atFrame[first] as number) < t - margin) first++;
    firstFrom[t] = first;
  }
  return {
    count: used.length,
    atFrame,
    floor: Int32Array.from(atFrame, Math.floor),
    quarter: atFrame.map((frame) => 4 * (frame + margin)),
    weight,
    massBefore,
    isBass: Uint8Array.from(used, (e) => (e.lowMidi <= bassBelow ? 1 : 0)),
    firstFrom,
  };
}

/** Events no higher than this are basses. */
export function bassLine(events: readonly HitEvent[]): number {
  const lows = events.map((e) => e.lowMidi).sort((a, b) => a - b);
  return lows[Math.floor(lows.length * TRACK_DEFAULTS.bassShare)] ?? 50;
}

/** Frames at which something is struck, or nearly: 1, else 0. */
function landings({ atFrame }: Hits, frames: number): Uint8Array {
  const near = new Uint8Array(frames);
  const { landing } = TRACK_DEFAULTS;
  for (const at of atFrame)
    near.fill(1, Math.max(0, Math.round(at) - landing), Math.max(0, Math.round(at) + landing + 1));
  return near;
}

/** What the events of a beat from frame t on say for each length it may have: fills `gains`. */
function gainsFrom(t: number, model: BeatModel, hits: Hits, gains: Float64Array): void {
  const { shortest, lengths, margin, densities } = model;
  const { count, floor, quarter, weight, isBass } = hits;
  gains.fill(0);
  const firstEnd = t + shortest - margin;
  for (let e = hits.firstFrom[t] as number; e < count; e++) {
    const from = Math.max(0, (floor[e] as number) + 1 - firstEnd); // shorter beats are over by then
    if (from >= lengths) break;
    const table = isBass[e] === 1 ? densities.bass : densities.upper;
    const place = (((quarter[e] as number) - 4 * t + 0.5) | 0) * lengths;
    const w = weight[e] as number;
    for (let j = from; j < lengths; j++) gains[j] = (gains[j] as number) + w * (table[place + j] as number);
  }
}

/** Beats from frame t on, of every length: writes where each arrives, with the length of the beat before it that it is best come to from. */
function goOn(
  t: number,
  model: BeatModel,
  now: Float64Array,
  top: number,
  gains: Float64Array,
  arrive: Float64Array,
  arriveFrom: Int16Array,
): void {
  const { shortest, lengths, change, price, stray } = model;
  const ringLen = shortest + lengths;
  let ring = (t + shortest) % ringLen;
  for (let j = 0; j < lengths; j++) {
    let score = now[j] as number;
    let from = j;
    // The nearest lengths first; once even the best of all would cost too much, no other can be better.
    for (let d = 1; d <= change && top - (price[d] as number) >= score; d++) {
      if (j >= d) {
        const s = (now[j - d] as number) - (price[d] as number);
        if (s >= score) {
          score = s;
          from = j - d;
        }
      }
      if (j + d < lengths) {
        const s = (now[j + d] as number) - (price[d] as number);
        if (s > score) {
          score = s;
          from = j + d;
        }
      }
    }
    arrive[ring * lengths + j] = score + ((gains[j] as number) - 0.25 * (stray[j] as number));
    arriveFrom[ring * lengths + j] = from;
    ring = ring + 1 === ringLen ? 0 : ring + 1;
  }
}

/** Drawn-out beats that end at frame t, where they are better than what is there; the pace before one goes on after it. */
function drawOut(
  t: number,
  model: BeatModel,
  hits: Hits,
  best: Float64Array,
  likeliest: Int16Array,
  now: Float64Array,
  cameBy: Int32Array,
): void {
  const { shortest, lengths, margin, stray } = model;
  const { count, atFrame, quarter, weight, isBass, firstFrom } = hits;
  for (const { length, densities } of model.drawn) {
    const t0 = t - length;
    if (t0 < 0) break;
    const j = likeliest[t0] as number;
    const ratio = length / (shortest + j);
    if (ratio < BEAT_DEFAULTS.drawnLeast || ratio > BEAT_DEFAULTS.drawnMost) continue;
    const end = t - margin;
    let gain = 0;
    for (let e = firstFrom[t0] as number; e < count && (atFrame[e] as number) < end; e++) {
      const place = ((quarter[e] as number) - 4 * t0 + 0.5) | 0;
      gain += (weight[e] as number) * ((isBass[e] === 1 ? densities.bass : densities.upper)[place] as number);
    }
    const score = (best[t0] as number) + (gain - TRACK_DEFAULTS.drawnCost) - 0.25 * (stray[j] as number);
    if (score > (now[j] as number)) {
      now[j] = score;
      cameBy[t * lengths + j] = DRAWN + length;
    }
  }
}

/** The beats from the last one back to the first. */
function traceBack(
  lastAt: number,
  cameBy: Int32Array,
  { shortest, lengths, hopSec }: BeatModel,
  originSec: number,
): Pick<Track, "beatSec" | "drawn"> {
  const beatSec: number[] = [];
  const drawn: Track["drawn"] = [];
  for (let at = lastAt; at >= 0; ) {
    const j = at % lengths;
    let t = (at - j) / lengths;
    beatSec.push(originSec + t * hopSec);
    let by = cameBy[at] as number;
    if (by >= WAITED) {
      t -= by - WAITED;
      by = cameBy[t * lengths + j] as number;
    }
    if (by === 0) break;
    const isDrawn = by >= DRAWN;
    if (isDrawn) drawn.push({ beat: beatSec.length, usualSec: (shortest + j) * hopSec });
    t -= isDrawn ? by - DRAWN : shortest + j;
    at = t * lengths + (isDrawn ? j : by - 1);
  }
  beatSec.reverse();
  const last = beatSec.length - 1;
  return { beatSec, drawn: drawn.reverse().map(({ beat, usualSec }) => ({ beat: last - beat, usualSec })) };
}
