import { median } from "../base/numbers.js";
import type { HitEvent } from "./events.js";

const PULSE_DEFAULTS = Object.freeze({
  shortestSec: 0.11, // sixteenths at 136
  longestSec: 0.75,
  sigmaSec: 0.02, // jitter of two events together
  gridRatio: 1.012, // neighbouring candidates
});

/** The step of the music: the slowest regular pulse that nearly all events stand on.
 * @property stepIdx step number of each event, from 0
 * @property offStep how far each is from it, −0.5…0.5 of a step @property clarity 0…1 */
export type Pulse = { periodSec: number; stepIdx: number[]; offStep: number[]; clarity: number };

/** Finds the step from the gaps between events, then follows it from event to event.
 * @param events at least two, by time */
export function pulseOf(events: readonly HitEvent[]): Pulse {
  const gaps: number[] = [];
  for (let k = 1; k < events.length; k++) {
    for (let back = 1; back <= 3 && back <= k; back++) {
      const gap = (events[k] as HitEvent).sec - (events[k - back] as HitEvent).sec;
      if (gap < 2.2) gaps.push(gap);
    }
  }
  const { shortestSec, longestSec, sigmaSec, gridRatio } = PULSE_DEFAULTS;
  let best = { periodSec: median(gaps) ?? 0.5, score: Number.NEGATIVE_INFINITY };
  for (let period = shortestSec; period <= longestSec; period *= gridRatio) {
    let fit = 0;
    for (const gap of gaps) {
      const steps = Math.max(1, Math.round(gap / period));
      const x = (gap - steps * period) / (sigmaSec + 0.012 * gap);
      // Chance level: a fine pulse is near everything.
      const chance = Math.min(1, (2.5 * (sigmaSec + 0.012 * gap)) / period);
      fit += Math.exp(-0.5 * x * x) - chance;
    }
    const score = fit / gaps.length + 0.12 * Math.log(period);
    if (score > best.score) best = { periodSec: period, score };
  }
  // Follow: each event is so many steps after the one before; the step's length drifts along.
  let periodSec = best.periodSec;
  for (let round = 0; round < 2; round++) {
    const near = gaps.flatMap((gap) => {
      const steps = Math.round(gap / periodSec);
      return steps >= 1 && Math.abs(gap / periodSec - steps) < 0.2 ? [gap / steps] : [];
    });
    periodSec = median(near) ?? periodSec;
  }
  const stepIdx = [0];
  const offStep = [0];
  let current = periodSec;
  let phaseSec = (events[0] as HitEvent).sec;
  let step = 0;
  let missed = 0;
  let swungHits = 0;
  for (let k = 1; k < events.length; k++) {
    const sec = (events[k] as HitEvent).sec;
    const ahead = (sec - phaseSec) / current;
    const steps = Math.max(0, Math.round(ahead));
    const miss = sec - (phaseSec + steps * current);
    if (Math.abs(miss) > 0.25 * current) {
      missed++;
      const late = ahead - Math.floor(ahead);
      if (late > 0.53 && late < 0.76) swungHits++;
    }
    step += steps;
    stepIdx.push(step);
    offStep.push(miss / current);
    if (steps > 0) {
      phaseSec += steps * current + 0.4 * miss;
      const target = current + (0.12 * miss) / steps;
      current = Math.min(1.12 * periodSec, Math.max(0.88 * periodSec, target));
    }
  }
  const lastSec = phaseSec;
  const span = lastSec - (events[0] as HitEvent).sec;
  // What stands off the pulse at one late place is swing, not want of a pulse.
  const strays = swungHits > 0.7 * missed ? missed - swungHits : missed;
  const clarity = Math.max(0, 1 - (2.5 * strays) / events.length);
  return { periodSec: step > 8 && clarity > 0.5 ? span / step : periodSec, stepIdx, offStep, clarity };
}
