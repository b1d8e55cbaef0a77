// Pauses within a take: the player stops for a moment, or draws out the last beat of a bar, and goes on at the old tempo.
// In: events by time, a track that is right up to the first pause, beats a bar. Out: where the music waits, and how long.
// Method: what stands where in the bars before an unusually long gap is held against the two bars after it, once as if no time
// were lost and once for each beat that the music may go on with; a pause must explain the bars far better. Source: common
// practice, no published source; effect in tests/bench/grid.bench.ts. Cannot do: pauses in the first two bars, or in music
// whose bars have nothing in common; those stay as they were.
import { median } from "../base/numbers.js";
import { rawPosition } from "./clock.js";
import type { HitEvent } from "./events.js";

export const PAUSE_DEFAULTS = Object.freeze({
  gapFactor: 1.2, // a gap this much longer than usual may hold a pause
  leastSec: 0.12,
  mostSec: 6,
  leastBars: 2, // to know the bars by
  beatsBefore: 32,
  beatsAfter: 10,
  mostEvents: 80, // no more stand in so many beats
  paces: [0.95, 0.97, 0.985, 1, 1.015, 1.03, 1.05] as readonly number[], // of the beats after, against those before
  slots: 12, // a beat
  leastLike: 0.4, // cosine: the bars after must be like those before
  better: 0.15, // and by so much more than without a pause
  shorterFor: 0.03, // a shorter pause is believed rather than a longer one, for so much
  betterAtRare: 0.04, // a gap such as the take has no other is half the evidence already
  rareFactor: 1.25, // so much longer than all but a fiftieth of the gaps
  betterWhole: 0.05, // all that follows, once tracked, must be so much more like what came before
  most: 6,
  tries: 10,
});

/** @property fromSec moment that the music goes on at @property sec time lost before it */
export type Pause = { fromSec: number; sec: number };

/** The first pause, if there is one.
 * @param events by time @param afterSec earlier ones are known @returns undefined when nothing was lost */
export function nextPause(
  events: readonly HitEvent[],
  beatSec: readonly number[],
  beatsPerBar: number,
  afterSec: number,
): Pause | undefined {
  const gaps = events.slice(1).map((e, k) => e.sec - (events[k] as HitEvent).sec);
  const usual = median(gaps) ?? 0;
  const sorted = [...gaps].sort((a, b) => a - b);
  const rareSec = PAUSE_DEFAULTS.rareFactor * (sorted[Math.floor(0.98 * (sorted.length - 1))] ?? 0);
  const bassBelow = bassLine(events);
  for (let k = 1; k < events.length; k++) {
    const event = events[k] as HitEvent;
    const gapSec = gaps[k - 1] as number;
    if (event.sec <= afterSec || gapSec < PAUSE_DEFAULTS.gapFactor * usual) continue;
    const last = events[k - 1] as HitEvent;
    const lastAt = rawPosition(beatSec, last.sec);
    if (lastAt < PAUSE_DEFAULTS.leastBars * beatsPerBar) continue;
    const periodSec = localPeriodSec(beatSec, lastAt);
    const before = profile(
      events.slice(0, k).map((e) => ({ e, at: rawPosition(beatSec, e.sec) })),
      (at) => at > lastAt - PAUSE_DEFAULTS.beatsBefore,
      beatsPerBar,
      bassBelow,
    );
    const likeWith = (firstAt: number): number => {
      const upTo = firstAt + PAUSE_DEFAULTS.beatsAfter;
      const likes = PAUSE_DEFAULTS.paces.map((pace) => {
        const after = events
          .slice(k, k + PAUSE_DEFAULTS.mostEvents)
          .map((e) => ({ e, at: firstAt + (e.sec - event.sec) / (pace * periodSec) }));
        return cosine(
          before,
          profile(after, (at) => at < upTo, beatsPerBar, bassBelow),
          beatsPerBar,
        );
      });
      return Math.max(...likes);
    };
    const unpaused = lastAt + (event.sec - last.sec) / periodSec;
    const plain = likeWith(unpaused);
    let best: { like: number; sec: number } | undefined;
    for (let beat = Math.floor(lastAt + 0.1) + 1; beat <= lastAt + beatsPerBar + 1; beat++) {
      const sec = (unpaused - beat) * periodSec;
      if (sec < PAUSE_DEFAULTS.leastSec || sec > PAUSE_DEFAULTS.mostSec) continue;
      const like = likeWith(beat);
      if (like > (best?.like ?? 0) - PAUSE_DEFAULTS.shorterFor) best = { like, sec };
    }
    const better = gapSec > rareSec ? PAUSE_DEFAULTS.betterAtRare : PAUSE_DEFAULTS.better;
    if (best !== undefined && best.like > PAUSE_DEFAULTS.leastLike && best.like > plain + better)
      return { fromSec: event.sec, sec: best.sec };
  }
  return undefined;
}

/** The last beats may have been bent towards the pause already. */
function localPeriodSec(beatSec: readonly number[], at: number): number {
  const to = Math.max(1, Math.min(beatSec.length - 1, Math.floor(at)));
  const lengths: number[] = [];
  for (let k = Math.max(1, to - 16); k <= Math.max(1, to - 2); k++)
    lengths.push((beatSec[k] as number) - (beatSec[k - 1] as number));
  return median(lengths) ?? 0.5;
}

/** How often something is struck at each place of the bar, and how often a bass. */
function profile(
  placed: readonly { e: HitEvent; at: number }[],
  wanted: (at: number) => boolean,
  beatsPerBar: number,
  bassBelow: number,
): Float64Array {
  const { slots } = PAUSE_DEFAULTS;
  const size = beatsPerBar * slots;
  const out = new Float64Array(2 * size);
  for (const { e, at } of placed) {
    if (!wanted(at)) continue;
    const slot = Math.round(at * slots);
    for (const [step, share] of [
      [-1, 0.5],
      [0, 1],
      [1, 0.5],
    ] as const) {
      const k = (((slot + step) % size) + size) % size;
      out[k] = (out[k] as number) + share;
      if (e.lowMidi <= bassBelow) out[size + k] = (out[size + k] as number) + 1.5 * share;
    }
  }
  return out;
}

/** Likeness about the mean, -1…1: places that are never struck speak as well. */
function cosine(a: Float64Array, b: Float64Array, beatsPerBar: number): number {
  const size = beatsPerBar * PAUSE_DEFAULTS.slots;
  let dot = 0;
  let aa = 1e-9;
  let bb = 1e-9;
  for (const from of [0, size]) {
    let meanA = 0;
    let meanB = 0;
    for (let k = from; k < from + size; k++) {
      meanA += (a[k] as number) / size;
      meanB += (b[k] as number) / size;
    }
    for (let k = from; k < from + size; k++) {
      const x = (a[k] as number) - meanA;
      const y = (b[k] as number) - meanB;
      dot += x * y;
      aa += x * x;
      bb += y * y;
    }
  }
  return dot / Math.sqrt(aa * bb);
}

/** How much all that follows a moment is like all before it, by the tracked beats, -1…1. */
export function likeAcross(
  events: readonly HitEvent[],
  beatSec: readonly number[],
  beatsPerBar: number,
  fromSec: number,
): number {
  const placed = events.map((e) => ({ e, at: rawPosition(beatSec, e.sec) }));
  const bassBelow = bassLine(events);
  const all = (): boolean => true;
  const before = placed.filter(({ e }) => e.sec < fromSec - 1e-6);
  const after = placed.filter(({ e }) => e.sec >= fromSec - 1e-6);
  return cosine(
    profile(before, all, beatsPerBar, bassBelow),
    profile(after, all, beatsPerBar, bassBelow),
    beatsPerBar,
  );
}

/** Events no higher than this are basses. */
function bassLine(events: readonly HitEvent[]): number {
  const lows = events.map((e) => e.lowMidi).sort((a, b) => a - b);
  return lows[Math.floor(lows.length * 0.4)] ?? 50;
}

/** Events as if nothing had been lost. */
export const withoutPause = (events: readonly HitEvent[], pause: Pause): HitEvent[] =>
  events.map((e) =>
    e.sec < pause.fromSec - 1e-6 ? e : { ...e, sec: e.sec - pause.sec, lastSec: e.lastSec - pause.sec },
  );

/** Events as if a beat had not been drawn out: what stands within it moves together. */
export function withoutDrawn(
  events: readonly HitEvent[],
  { fromSec, toSec, usualSec }: { fromSec: number; toSec: number; usualSec: number },
): HitEvent[] {
  const share = usualSec / (toSec - fromSec);
  const place = (sec: number): number => {
    if (sec <= fromSec) return sec;
    return sec < toSec ? fromSec + share * (sec - fromSec) : sec - (toSec - fromSec - usualSec);
  };
  return events.map((e) => ({ ...e, sec: place(e.sec), lastSec: place(e.sec) + (e.lastSec - e.sec) }));
}

/** Puts the time that was lost back into beats. @param pauses in the order they were taken out, each in the time before it was
 * @param slackSec a beat may stand this much before the event that goes on */
export function pausesBack(beatSec: readonly number[], pauses: readonly Pause[], slackSec: number): number[] {
  let out = [...beatSec];
  for (const pause of [...pauses].reverse())
    out = out.map((b) => (b < pause.fromSec - pause.sec - slackSec ? b : b + pause.sec));
  return out;
}
