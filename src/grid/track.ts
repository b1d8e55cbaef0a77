// Follows the beat through a take.
// In: events (what is plucked together), the expected length of a beat, where the first beat is expected.
// Out: the time of every beat up to one past the last event, and how well the events fit.
// Method: Viterbi over (moment, beat length), one segment a beat, as in the bar-pointer models; an event's likelihood is
// a mixture of normals at the steps of the beat; the beat length may change from beat to beat at a price; a pause may be
// waited out, or a single beat drawn out, at a higher one. Sources: Whiteley, Cemgil & Godsill 2006 (bar pointer); Krebs, Böck & Widmer 2015 (its
// state space). Cannot do: find beats in free time; that shows as a low fit.
import type { HitEvent } from "./events.js";

const TRACK_DEFAULTS = Object.freeze({
  hopSec: 0.012, // as fine as a player's jitter; the curve is sharpened afterwards
  reach: 0.16, // beat lengths followed: ± this share of the nominal one
  sigmaSec: 0.016, // spread of played events about their step
  changeShare: 0.014, // usual change of the beat length from one beat to the next
  nominalShare: 0.06, // how far a player strays from the tempo given
  waitCost: 12, // price of a pause, in nats
  stray: 0.03, // share of events that stand on no step
  bassOn: 1.2, // basses stand on beats that much more often than other events, the thumb being what keeps the beat: common practice,
  bassOff: 0.5, // no published source
  bassShare: 0.12, // part of the events that are basses
  drawnCost: 7, // price of a beat that is drawn out, in nats
  drawnLeast: 1.2, // times its usual length
  drawnMost: 1.8,
  drawnHop: 2, // frames from one length tried to the next
  landing: 3, // frames: after a drawn-out beat the music lands on the next
});

/** Steps within a beat, as shares of it, and how often events stand there: played straight, with a light swing, with a full one. */
export const STEP_SHARES = Object.freeze({
  straight: [
    [0, 0.3],
    [1, 0.3],
    [1 / 2, 0.27], // nearly as often: music off the beat must not pull the beat over
    [2 / 3, 0.07],
    [1 / 3, 0.07],
    [1 / 4, 0.07],
    [3 / 4, 0.07],
  ],
  light: [
    [0, 0.38],
    [1, 0.38],
    [0.58, 0.12],
    [0.62, 0.14],
  ],
  full: [
    [0, 0.38],
    [1, 0.38],
    [0.65, 0.14],
    [0.69, 0.14],
    [1 / 3, 0.04],
  ],
} as const satisfies Record<string, readonly (readonly [number, number])[]>);

/** @property drawn beats longer than their neighbours, by index, with the length they would have had */
export type Track = { beatSec: number[]; fit: number; drawn: { beat: number; usualSec: number }[] };

/** Where the first beat may be, and the price of it in nats. */
export type StartGuess = { sec: number; cost: number };

/** @param starts where the first beat may be, each at a price @param startSlackSec deviation of the first beat about them
 * @returns beatSec from the first beat; fit is the mean log likelihood (density in 1/s) of an event */
export function trackBeats(
  events: readonly HitEvent[],
  options: {
    periodSec: number;
    starts: readonly StartGuess[];
    startSlackSec: number;
    reach?: number;
    steps?: keyof typeof STEP_SHARES;
  },
): Track {
  const { periodSec, starts, startSlackSec, reach = TRACK_DEFAULTS.reach, steps = "straight" } = options;
  const hopSec = Math.min(TRACK_DEFAULTS.hopSec, periodSec / 48);
  const slackFrames = Math.max(2, Math.ceil((3 * startSlackSec) / hopSec));
  const originSec = Math.min(...starts.map((s) => s.sec)) - slackFrames * hopSec;
  const lastStart = Math.max(...starts.map((s) => (s.sec - originSec) / hopSec)) + slackFrames;
  const nominal = periodSec / hopSec;
  const shortest = Math.max(4, Math.round(nominal * (1 - reach)));
  const longest = Math.max(shortest + 1, Math.round(nominal * (1 + reach)));
  const lengths = longest - shortest + 1;
  const margin = Math.max(1, Math.round(nominal * 0.1));
  const used = events.filter((e) => e.sec >= originSec - margin * hopSec);
  const atFrame = Float64Array.from(used, (e) => (e.sec - originSec) / hopSec);
  const atQuarter = atFrame.map((frame) => 4 * (frame + margin)); // as the tables are read
  const weight = Float64Array.from(used, (e) => e.weight);
  const lastFrame = atFrame.length > 0 ? (atFrame[atFrame.length - 1] as number) : lastStart;
  const frames = Math.ceil(lastFrame) + margin + longest + 2;
  const firstFrom = lowerBounds(atFrame, frames + margin + 2, margin);
  const lows = used.map((e) => e.lowMidi).sort((a, b) => a - b);
  const bassBelow = lows[Math.floor(lows.length * TRACK_DEFAULTS.bassShare)] ?? 50;
  const isBass = Uint8Array.from(used, (e) => (e.lowMidi <= bassBelow ? 1 : 0));
  const tablesOf = (len: number): Tables => [
    stepTable(len, margin, hopSec, STEP_SHARES[steps]),
    stepTable(len, margin, hopSec, bassShares(STEP_SHARES[steps])),
  ];
  const tables = Array.from({ length: lengths }, (_, j) => tablesOf(shortest + j));

  const score = new Float64Array(frames * lengths).fill(Number.NEGATIVE_INFINITY);
  const fromLength = new Int16Array(frames * lengths).fill(-1);
  const waitedFrom = new Int32Array(frames * lengths).fill(-1);
  const drawnLens: number[] = [];
  const { drawnLeast, drawnMost, drawnHop, drawnCost } = TRACK_DEFAULTS;
  for (let len = Math.ceil(drawnLeast * nominal); len <= drawnMost * nominal; len += drawnHop)
    drawnLens.push(len);
  const drawnTables = drawnLens.map(tablesOf);
  const landings = nearEvents(atFrame, frames);
  const drawnBest = new Float64Array(lengths);
  const drawnLen = new Int16Array(frames * lengths); // 0 where the beat is no longer than usual
  const drawnNow = new Int16Array(lengths);
  const likeliest = new Int16Array(frames); // beat length that a frame is best reached with
  const wait = new Float64Array(lengths).fill(Number.NEGATIVE_INFINITY);
  const waitStart = new Int32Array(lengths);
  const change = Math.max(2, Math.ceil((0.09 * nominal) / 1));
  const price = Float64Array.from({ length: change + 1 }, (_, d) => {
    const x = d / nominal / TRACK_DEFAULTS.changeShare;
    return 2 * Math.log1p((x * x) / 4); // a heavy tail: the end of a slowed bar is a step back to tempo
  });
  const stray = Float64Array.from({ length: lengths }, (_, j) => {
    const x = (shortest + j - nominal) / nominal / TRACK_DEFAULTS.nominalShare;
    return 0.5 * x * x;
  });

  const gainOf = (of: Tables, t0: number, length: number): number => {
    const upper = of[0];
    const bass = of[1];
    const end = t0 + length - margin;
    let gain = 0;
    for (let e = firstFrom[t0] as number; e < atFrame.length; e++) {
      if ((atFrame[e] as number) >= end) break;
      const place = ((atQuarter[e] as number) - 4 * t0 + 0.5) | 0;
      gain += (weight[e] as number) * ((isBass[e] === 1 ? bass : upper)[place] as number);
    }
    return gain;
  };

  for (let t = 0; t < frames; t++) {
    const row = t * lengths;
    drawnBest.fill(Number.NEGATIVE_INFINITY);
    if (landings[t] === 1)
      for (let k = 0; k < drawnLens.length; k++) {
        const length = drawnLens[k] as number;
        const t0 = t - length;
        if (t0 < 0) break;
        const j = likeliest[t0] as number; // the pace before it goes on after it
        const ratio = length / (shortest + j);
        if (ratio < drawnLeast || ratio > drawnMost) continue;
        const gain = gainOf(drawnTables[k] as Tables, t0, length) - drawnCost;
        const s = (score[t0 * lengths + j] as number) + gain - 0.25 * (stray[j] as number);
        if (s > (drawnBest[j] as number)) {
          drawnBest[j] = s;
          drawnNow[j] = length;
        }
      }
    for (let j = 0; j < lengths; j++) {
      let best = Number.NEGATIVE_INFINITY;
      if (t <= lastStart)
        for (const start of starts) {
          const x = (originSec + t * hopSec - start.sec) / Math.max(startSlackSec, 1e-3);
          best = Math.max(best, -0.5 * x * x - start.cost - 2 * (stray[j] as number));
        }
      const length = shortest + j;
      const t0 = t - length;
      if (t0 >= 0) {
        let from = -1;
        let arrive = Number.NEGATIVE_INFINITY;
        const row0 = t0 * lengths;
        const low = Math.max(0, j - change);
        const high = Math.min(lengths - 1, j + change);
        for (let i = low; i <= high; i++) {
          const s = (score[row0 + i] as number) - (price[i < j ? j - i : i - j] as number);
          if (s > arrive) {
            arrive = s;
            from = i;
          }
        }
        if (from >= 0) {
          const gain = gainOf(tables[j] as Tables, t0, length) - 0.25 * (stray[j] as number);
          if (arrive + gain > best) {
            best = arrive + gain;
            fromLength[row + j] = from;
          }
        }
      }
      if ((drawnBest[j] as number) > best) {
        best = drawnBest[j] as number;
        fromLength[row + j] = j;
        drawnLen[row + j] = drawnNow[j] as number;
      }
      // A pause: nothing sounds while it is waited out.
      const waited = wait[j] as number;
      if (waited > best) {
        best = waited;
        fromLength[row + j] = j;
        waitedFrom[row + j] = waitStart[j] as number;
        drawnLen[row + j] = 0;
      }
      score[row + j] = best;
      if (best > (score[row + (likeliest[t] as number)] as number)) likeliest[t] = j;
      if (t > lastStart && waitedFrom[row + j] === -1 && best - TRACK_DEFAULTS.waitCost > waited) {
        wait[j] = best - TRACK_DEFAULTS.waitCost;
        waitStart[j] = t;
      }
    }
    if ((firstFrom[t + 1] as number) > (firstFrom[t] as number)) wait.fill(Number.NEGATIVE_INFINITY);
  }

  let bestAt = -1;
  let bestScore = Number.NEGATIVE_INFINITY;
  for (let t = Math.min(frames - 1, Math.ceil(lastFrame) + margin); t < frames; t++)
    for (let j = 0; j < lengths; j++) {
      const s = score[t * lengths + j] as number;
      if (s > bestScore) {
        bestScore = s;
        bestAt = t * lengths + j;
      }
    }
  const beatSec: number[] = [];
  const drawnFromEnd: { beat: number; usualSec: number }[] = [];
  for (let at = bestAt; at >= 0; ) {
    const j = at % lengths;
    const t = (at - j) / lengths;
    beatSec.push(originSec + t * hopSec);
    const waitOrigin = waitedFrom[at] as number;
    const at0 = waitOrigin >= 0 ? waitOrigin * lengths + j : at;
    const from = fromLength[at0] as number;
    if (from < 0) break;
    const drawnFrames = drawnLen[at0] as number;
    if (drawnFrames > 0) drawnFromEnd.push({ beat: beatSec.length, usualSec: (shortest + j) * hopSec });
    const t0 = (at0 - j) / lengths - (drawnFrames > 0 ? drawnFrames : shortest + j);
    at = t0 * lengths + from;
  }
  beatSec.reverse();
  const mass = weight.reduce((sum, w) => sum + w, 0);
  const last = beatSec.length - 1;
  const drawn = drawnFromEnd.reverse().map(({ beat, usualSec }) => ({ beat: last - beat, usualSec }));
  return { beatSec, fit: mass > 0 ? bestScore / mass : 0, drawn };
}

/** Frames at which something is struck, or nearly: 1, else 0. */
function nearEvents(atFrame: Float64Array, frames: number): Uint8Array {
  const near = new Uint8Array(frames);
  for (const at of atFrame)
    near.fill(
      1,
      Math.max(0, Math.round(at) - TRACK_DEFAULTS.landing),
      Math.max(0, Math.round(at) + TRACK_DEFAULTS.landing + 1),
    );
  return near;
}

/** firstFrom[t]: the first event at or after frame t − margin. */
function lowerBounds(atFrame: Float64Array, frames: number, margin: number): Int32Array {
  const firstFrom = new Int32Array(frames);
  let e = 0;
  for (let t = 0; t < frames; t++) {
    while (e < atFrame.length && (atFrame[e] as number) < t - margin) e++;
    firstFrom[t] = e;
  }
  return firstFrom;
}

/** Log densities of events by place in a beat: of upper voices, of basses. */
type Tables = readonly [Float64Array, Float64Array];

/** How often basses stand where. */
const bassShares = (steps: readonly (readonly [number, number])[]): (readonly [number, number])[] =>
  steps.map(([at, part]) => [
    at,
    part * (at === 0 || at === 1 ? TRACK_DEFAULTS.bassOn : TRACK_DEFAULTS.bassOff),
  ]);

/** Log density (1/s) of an event by its place in a beat, in quarter frames from −margin. */
function stepTable(
  length: number,
  margin: number,
  hopSec: number,
  steps: readonly (readonly [number, number])[],
): Float64Array {
  const sigma = TRACK_DEFAULTS.sigmaSec / hopSec;
  const peak = 1 / (Math.sqrt(2 * Math.PI) * TRACK_DEFAULTS.sigmaSec);
  return Float64Array.from({ length: (length + margin) * 4 + 8 }, (_, k) => {
    const relative = k / 4 - margin;
    let density = TRACK_DEFAULTS.stray / (length * hopSec);
    for (const [share, part] of steps) {
      const x = (relative - share * length) / sigma;
      density += part * peak * Math.exp(-0.5 * x * x);
    }
    return Math.log(density);
  });
}
