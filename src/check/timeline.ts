/** From ticks to seconds and back along an alignment: between two timed events in proportion, beyond them by the tempo there.
 * In: aligned events. Out: Timeline. Without rhythm the ticks only say the order, and the result is as rough. */
import type { AlignedEvent } from "./align.js";

export type Timeline = {
  startTicks: Float64Array;
  secs: Float64Array;
  firstPulse: number;
  lastPulse: number;
};

const FALLBACK_SEC_PER_TICK = 0.5 / 24; // 120 beats a minute, when one event says nothing of tempo

/** Timed events as two rising arrays. */
export function timelineOf(events: readonly AlignedEvent[]): Timeline {
  const timed = events.filter((e) => e.sec !== undefined);
  const pulses = timed.map((e) => e.secPerTick);
  return {
    startTicks: Float64Array.from(timed, (e) => e.startTick),
    secs: Float64Array.from(timed, (e) => e.sec as number),
    firstPulse: pulses.find((p) => p !== undefined) ?? FALLBACK_SEC_PER_TICK,
    lastPulse: pulses.findLast((p) => p !== undefined) ?? FALLBACK_SEC_PER_TICK,
  };
}

/** Index of the last entry that is not above x; −1 when all are. */
export function lastNotAbove(xs: Float64Array, x: number): number {
  let low = 0;
  let high = xs.length;
  while (low < high) {
    const mid = (low + high) >> 1;
    if ((xs[mid] as number) <= x) low = mid + 1;
    else high = mid;
  }
  return low - 1;
}

function along(
  xs: Float64Array,
  ys: Float64Array,
  x: number,
  slopeBefore: number,
  slopeAfter: number,
): number {
  const i = lastNotAbove(xs, x);
  if (i < 0) return (ys[0] as number) + (x - (xs[0] as number)) * slopeBefore;
  if (i === xs.length - 1) return (ys[i] as number) + (x - (xs[i] as number)) * slopeAfter;
  const [x0, x1] = [xs[i] as number, xs[i + 1] as number];
  const [y0, y1] = [ys[i] as number, ys[i + 1] as number];
  return x1 > x0 ? y0 + ((x - x0) / (x1 - x0)) * (y1 - y0) : y0;
}

/** Time of a tick of the unfolded music; undefined when nothing was aligned. */
export function secAtTick(line: Timeline, startTick: number): number | undefined {
  if (line.secs.length === 0) return undefined;
  return along(line.startTicks, line.secs, startTick, line.firstPulse, line.lastPulse); // tick · sec/tick = sec
}

/** Tick of the unfolded music at a time; undefined when nothing was aligned. */
export function tickAtSec(line: Timeline, sec: number): number | undefined {
  if (line.secs.length === 0) return undefined;
  return along(line.secs, line.startTicks, sec, 1 / line.firstPulse, 1 / line.lastPulse);
}
