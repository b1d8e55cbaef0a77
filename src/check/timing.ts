/** Early and late, against the player's own pulse.
 * In: aligned events, notes as asked. Out: for each timed event, milliseconds played minus expected.
 * Method: around each event a line (a parabola where enough notes are near, so that a slowing is not a fault) through the ticks and
 * times of its neighbours, itself left out; neighbours that stray far are dropped and the curve drawn again. A pause parts neighbours.
 * Can't do: a tab without rhythm has no pulse. */
import { median } from "../base/numbers.js";
import type { AlignedEvent } from "./align.js";

const TIMING_DEFAULTS = Object.freeze({
  reachTicks: 96, // about a bar on each side
  leastNeighbours: 4,
  parabolaFrom: 8, // neighbours
  straySec: 0.06, // neighbours off by more are dropped for the second drawing
  pauseSec: 0.6, // a gap longer than written by this parts the neighbours
});

/** Solve the normal equations of a polynomial fit at x = 0 by elimination; undefined when they are singular. */
function valueAtZero(xs: readonly number[], ys: readonly number[], degree: number): number | undefined {
  const n = degree + 1;
  const rows = Array.from({ length: n }, (_, r) => {
    const row = new Float64Array(n + 1);
    xs.forEach((x, i) => {
      for (let c = 0; c < n; c++) row[c] = (row[c] as number) + x ** (r + c);
      row[n] = (row[n] as number) + x ** r * (ys[i] as number);
    });
    return row;
  });
  for (let p = 0; p < n; p++) {
    let pivot = p;
    for (let r = p + 1; r < n; r++)
      if (Math.abs(rows[r]?.[p] as number) > Math.abs(rows[pivot]?.[p] as number)) pivot = r;
    const swap = rows[p] as (typeof rows)[number];
    rows[p] = rows[pivot] as (typeof rows)[number];
    rows[pivot] = swap;
    const lead = rows[p]?.[p] as number;
    if (Math.abs(lead) < 1e-9) return undefined;
    for (let r = 0; r < n; r++) {
      if (r === p) continue;
      const factor = (rows[r]?.[p] as number) / lead;
      for (let c = p; c <= n; c++)
        (rows[r] as Float64Array)[c] = (rows[r]?.[c] as number) - factor * (rows[p]?.[c] as number);
    }
  }
  return (rows[0]?.[n] as number) / (rows[0]?.[0] as number);
}

/** Where the player's pulse puts a point among its neighbours.
 * @param neighbours ticks from the point (never 0) and their times @returns seconds, undefined where too few neighbours stand */
export function expectedSec(neighbours: readonly { ticks: number; sec: number }[]): number | undefined {
  const { leastNeighbours, parabolaFrom, straySec } = TIMING_DEFAULTS;
  let kept = neighbours;
  for (let round = 0; round < 2; round++) {
    if (kept.length < leastNeighbours) return undefined;
    const bothSides = kept.some((n) => n.ticks < 0) && kept.some((n) => n.ticks > 0);
    const degree = kept.length >= parabolaFrom && bothSides ? 2 : 1;
    const xs = kept.map((n) => n.ticks / 24);
    const value = valueAtZero(
      xs,
      kept.map((n) => n.sec),
      degree,
    );
    if (value === undefined || round === 1) return value;
    // Residuals against the slope between neighbours, median-based so that one stray does not bend it.
    const slopes: number[] = [];
    for (let a = 0; a < kept.length; a++)
      for (let b = a + 1; b < kept.length; b++) {
        const [one, two] = [kept[a], kept[b]];
        if (one && two && two.ticks - one.ticks >= 24)
          slopes.push((two.sec - one.sec) / (two.ticks - one.ticks));
      }
    const slope = median(slopes);
    if (slope === undefined) return value;
    const base = median(kept.map((n) => n.sec - slope * n.ticks)) as number;
    const steady = kept.filter(
      (n) => Math.abs(n.sec - slope * n.ticks - base) <= straySec + 0.02 * Math.abs(n.ticks / 24),
    );
    if (steady.length >= leastNeighbours) kept = steady;
  }
  return undefined;
}

/** First and last onset of an event. */
export type Span = { firstSec: number; lastSec: number };
const middleOf = (s: Span): number => (s.firstSec + s.lastSec) / 2;

/** Milliseconds played minus expected of each event; undefined where it was not played, has no pulse, or nobody near.
 * @param swung start ticks as sounded (swing applied) @param heardSec when the event was surely heard; undefined if it was not */
export function eventOffsetsMs(
  events: readonly AlignedEvent[],
  swung: readonly number[],
  heardSec: readonly (Span | undefined)[],
): (number | undefined)[] {
  const { reachTicks, pauseSec } = TIMING_DEFAULTS;
  return events.map((event, e) => {
    const span = heardSec[e];
    if (span === undefined || event.secPerTick === undefined) return undefined;
    const at = swung[e] as number;
    const sec = middleOf(span);
    const neighbours: { ticks: number; sec: number }[] = [];
    for (const step of [-1, 1]) {
      let lastTick = at;
      let lastSec = sec;
      for (let k = e + step; k >= 0 && k < events.length; k += step) {
        const ticks = (swung[k] as number) - at;
        const otherSpan = heardSec[k];
        if (Math.abs(ticks) > reachTicks) break;
        if (otherSpan === undefined || ticks === 0) continue;
        const other = middleOf(otherSpan);
        const wanted = Math.abs((swung[k] as number) - lastTick) * event.secPerTick;
        if (Math.abs(Math.abs(other - lastSec) - wanted) > pauseSec) break;
        neighbours.push({ ticks, sec: other });
        lastTick = swung[k] as number;
        lastSec = other;
      }
    }
    neighbours.sort((a, b) => a.ticks - b.ticks);
    // Where the tempo turns, the notes before and the notes after each have their own pulse: the kindest of the three counts.
    const offs = [neighbours, neighbours.filter((n) => n.ticks < 0), neighbours.filter((n) => n.ticks > 0)]
      .map((side) => expectedSec(side))
      .filter((expected): expected is number => expected !== undefined)
      // A roll or a strum is in time when the pulse falls within it.
      .map((expected) =>
        expected < span.firstSec
          ? span.firstSec - expected
          : expected > span.lastSec
            ? span.lastSec - expected
            : 0,
      )
      .sort((a, b) => Math.abs(a) - Math.abs(b));
    return offs[0] === undefined ? undefined : offs[0] * 1000; // s · 1000 ms/s = ms
  });
}
