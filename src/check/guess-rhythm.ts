/** A rhythm for a tab that has none, from the recording: where in its bar each column falls.
 * In: Score without rhythm, the player's path, the evidence. Out: the same Score with ticks that follow the playing.
 * Method: bar lines from the player's own clock; the spacing of the columns where the tab has one, bent as the take bends it (swing);
 * else for each bar the reading that the recording bears out best: the places that bars with as many columns share; its columns in order on the
 * places that the take uses at all; evenly spread. An earlier reading gives way only to one that finds more than a note more.
 * Can't do: a tab without bar lines; bars of different lengths. */
import { median } from "../base/numbers.js";
import type { EvidenceMap } from "../notes/played-note.js";
import type { CoarsePath } from "./coarse.js";
import { peakBetween } from "./evidence.js";
import { type BarPass, barPasses } from "./structure.js";
import type { PlayedBar, Score } from "./written.js";

const GUESS = Object.freeze({
  barTicks: 96,
  leastBars: 3, // that must agree on a place
  lengthShare: 0.25, // bars whose length departs by more from the usual one say nothing of places
  lineShare: 0.05, // of a bar: a first note this near where the clock has the bar line is on it
  pickupShare: 0.8,
  slotShare: 0.04, // of a bar: places nearer than this are one place
  reachSec: 0.06, // as notes are asked for
  missLogit: -2, // least that a note not found says against a reading
  hitLogit: 4, // most that a note found says for it
  marginLogits: 5, // a note found instead of not gains 6
});

/** Moments of the bar lines by bar in playing order, and how long the bars are; undefined where the path says nothing. */
type BarClock = { lineSec: (number | undefined)[]; lengthSec: (number | undefined)[]; usualSec: number };

function barClock(score: Score, passes: readonly BarPass[]): BarClock | undefined {
  const follows = (a: number, b: number): boolean =>
    (passes[b]?.barIdx ?? -9) - (passes[a]?.barIdx ?? 0) === b - a;
  const rawSec = passes.map((pass, i) =>
    pass.complete && follows(i, i + 1) ? (passes[i + 1] as BarPass).fromSec - pass.fromSec : undefined,
  );
  const usualSec = median(rawSec.filter((l): l is number => l !== undefined));
  if (usualSec === undefined) return undefined;
  const isUsual = (l: number | undefined): l is number =>
    l !== undefined && Math.abs(l - usualSec) <= GUESS.lengthShare * usualSec;
  const lineSec = new Array<number | undefined>(score.bars.length).fill(undefined);
  const lengthSec = new Array<number | undefined>(score.bars.length).fill(undefined);
  passes.forEach((pass, i) => {
    const near = rawSec.slice(Math.max(0, i - 3), i + 3).filter(isUsual);
    const here = median(near) ?? usualSec;
    const told = [-2, -1, 1, 2].flatMap((d) => {
      const other = passes[i + d];
      return other && follows(Math.min(i, i + d), Math.max(i, i + d)) ? [other.fromSec - d * here] : [];
    });
    const isOnLine =
      told.length === 0 || told.some((sec) => Math.abs(sec - pass.fromSec) < GUESS.lineShare * usualSec);
    lineSec[pass.barIdx] = isOnLine ? pass.fromSec : (median(told) as number);
    lengthSec[pass.barIdx] = here;
  });
  // A bar that the path passes over lies between its neighbours where they leave it room.
  for (let k = 1; k + 1 < lineSec.length; k++) {
    const next = lineSec.findIndex((sec, j) => j > k && sec !== undefined);
    const [from, to] = [lineSec[k - 1], lineSec[next]];
    if (lineSec[k] !== undefined || from === undefined || to === undefined) continue;
    const each = (to - from) / (next - k + 1);
    if (!isUsual(each)) continue;
    lineSec[k] = from + each;
    lengthSec[k] = each;
  }
  // The true length where the next line is known.
  lineSec.forEach((sec, k) => {
    const next = lineSec[k + 1];
    if (sec !== undefined && next !== undefined && isUsual(next - sec)) lengthSec[k] = next - sec;
  });
  return { lineSec, lengthSec, usualSec };
}

/** Medians of the places of played columns, shares of the bar, by a key of theirs; keys with too few bars are left out. */
function medianShares(samples: readonly { key: number; share: number }[]): Map<number, number> {
  const lists = new Map<number, number[]>();
  for (const { key, share } of samples) lists.set(key, [...(lists.get(key) ?? []), share]);
  return new Map(
    [...lists]
      .filter(([, shares]) => shares.length >= GUESS.leastBars)
      .map(([key, shares]) => [key, median(shares) as number]),
  );
}

/** How far played columns lie from the place of their key, shares of the bar. */
const strays = (
  samples: readonly { key: number; share: number }[],
  places: ReadonlyMap<number, number>,
): number[] =>
  samples.flatMap((s) => (places.has(s.key) ? [Math.abs(s.share - (places.get(s.key) ?? 0))] : []));

/** Does the tab space its columns: in some bar a place is left free that other bars use. Columns set close say only their order. */
function isSpaced(score: Score): boolean {
  const ticks = [...new Set(score.events.map((e) => e.tick))].sort((a, b) => a - b);
  return score.bars.some((bar) =>
    score.events.slice(bar.firstEvent, bar.endEvent).some((e, k) => e.tick !== ticks[k]),
  );
}

/** Place of a written tick as the take bends the spacing: between known ticks in proportion. */
function bent(byTick: ReadonlyMap<number, number>, tick: number, lengthTicks: number): number {
  const known = [...byTick].sort((a, b) => a[0] - b[0]);
  const [t0, s0] = known.findLast(([t]) => t <= tick) ?? [0, 0];
  const [t1, s1] = known.find(([t]) => t > tick) ?? [lengthTicks, 1];
  return t1 > t0 ? s0 + ((tick - t0) / (t1 - t0)) * (s1 - s0) : s0;
}

const KEY = 1000; // more columns than a bar has: column + KEY · columns of its bar

/** The score with guessed ticks; unchanged when there are too few bars to learn from. hasRhythm stays false. */
export function guessRhythm(score: Score, path: CoarsePath, map: EvidenceMap, transpose: number): Score {
  if (score.hasRhythm || score.bars.length < GUESS.leastBars) return score;
  const passes = barPasses(score, path);
  const clock = barClock(score, passes);
  if (!clock) return score;
  const { lineSec, lengthSec, usualSec } = clock;
  const columnsOf = (bar: PlayedBar): number => bar.endEvent - bar.firstEvent;
  const byTick: { key: number; share: number }[] = [];
  const byCount: { key: number; share: number }[] = [];
  for (const pass of passes) {
    const [line, length] = [lineSec[pass.barIdx], lengthSec[pass.barIdx]];
    const bar = score.bars[pass.barIdx];
    if (!pass.complete || !bar || line === undefined || length === undefined) continue;
    pass.visitSec.forEach((sec, k) => {
      const share = (sec - line) / length;
      if (share < -GUESS.lineShare || share >= 1) return;
      byTick.push({ key: score.events[bar.firstEvent + k]?.tick ?? 0, share });
      byCount.push({ key: k + KEY * columnsOf(bar), share });
    });
  }
  const tickShares = medianShares(byTick);
  const countShares = medianShares(byCount);
  const slots = [...countShares.values()]
    .sort((a, b) => a - b)
    .filter((s, i, all) => i === 0 || s - (all[i - 1] as number) > GUESS.slotShare);

  const spacingTells = isSpaced(score) && (median(strays(byTick, tickShares)) ?? 1) < GUESS.slotShare;
  const sharesOf = (bar: PlayedBar, barIdx: number): number[] => {
    const count = columnsOf(bar);
    const events = score.events.slice(bar.firstEvent, bar.endEvent);
    const [line, length] = [lineSec[barIdx], lengthSec[barIdx]];
    const gain = (column: number, share: number): number => {
      if (line === undefined || length === undefined) return 0;
      const sec = line + share * length;
      const reach = Math.min(GUESS.reachSec, (0.3 * length) / Math.max(1, slots.length));
      return (events[column]?.midis ?? []).reduce((sum, midi) => {
        const logit = peakBetween(map, midi + transpose, sec - reach, sec + reach)?.logit ?? 0;
        return sum + Math.max(GUESS.missLogit, Math.min(GUESS.hitLogit, logit));
      }, 0);
    };
    const spaced = events.map((e) => bent(tickShares, e.tick, bar.lengthTicks));
    const counted = events.map((_, k) => countShares.get(k + KEY * count));
    if (spacingTells) return spaced;
    const readings: number[][] = [spaced];
    if (counted.every((s) => s !== undefined)) readings.push(counted as number[]);
    const onSlots = inOrderOn(slots, count, gain);
    if (onSlots) readings.push(onSlots);
    readings.push(events.map((_, k) => k / count));
    let best = spaced;
    let most = Number.NEGATIVE_INFINITY;
    for (const shares of readings) {
      const sum = shares.reduce((total, share, k) => total + gain(k, share), 0);
      if (sum <= most + (best === shares ? 0 : GUESS.marginLogits)) continue;
      best = shares;
      most = sum;
    }
    return best;
  };

  const bars = score.bars.map((bar, i) => ({
    ...bar,
    startTick: i * GUESS.barTicks,
    lengthTicks: GUESS.barTicks,
  }));
  // A first bar much shorter than the others is a pick-up: its notes count back from the bar after it.
  const [up, first] = passes;
  const upSec = up && first ? first.fromSec - up.fromSec : 0;
  const isPickup =
    up?.barIdx === 0 &&
    first?.barIdx === 1 &&
    up.complete &&
    upSec > 0 &&
    upSec < GUESS.pickupShare * usualSec;
  const shares = score.bars.map(sharesOf);
  const events = score.events.map((event, e) => {
    const bar = score.bars[event.barIdx];
    if (!bar) return event;
    if (isPickup && event.barIdx === 0) {
      const beforeSec = first.fromSec - (up.visitSec[e - bar.firstEvent] ?? up.fromSec);
      return { ...event, startTick: GUESS.barTicks * (1 - beforeSec / usualSec) };
    }
    const share = shares[event.barIdx]?.[e - bar.firstEvent] ?? 0;
    return { ...event, startTick: (event.barIdx + share) * GUESS.barTicks };
  });
  return { events, bars, hasRhythm: false };
}

/** The columns of a bar set in order on places, each on one of its own, so that the gains are most; undefined when places lack.
 * Dynamic programming over (column, place). */
function inOrderOn(
  slots: readonly number[],
  count: number,
  gain: (column: number, share: number) => number,
): number[] | undefined {
  if (count === 0 || count > slots.length) return undefined;
  const spare = slots.length - count;
  // best[k][d]: columns 0…k placed, column k on place k + d
  const best: { sum: number; from: number }[][] = [];
  for (let k = 0; k < count; k++) {
    const row: { sum: number; from: number }[] = [];
    for (let d = 0; d <= spare; d++) {
      let from = 0;
      for (let c = 1; c <= d && k > 0; c++)
        if ((best[k - 1]?.[c]?.sum ?? 0) > (best[k - 1]?.[from]?.sum ?? 0)) from = c;
      const before = k === 0 ? 0 : (best[k - 1]?.[from]?.sum ?? 0);
      row.push({ sum: before + gain(k, slots[k + d] as number), from });
    }
    best.push(row);
  }
  let d = 0;
  for (let c = 1; c <= spare; c++)
    if ((best[count - 1]?.[c]?.sum ?? 0) > (best[count - 1]?.[d]?.sum ?? 0)) d = c;
  const shares = new Array<number>(count).fill(0);
  for (let k = count - 1; k >= 0; k--) {
    shares[k] = slots[k + d] as number;
    d = best[k]?.[d]?.from ?? 0;
  }
  return shares;
}
