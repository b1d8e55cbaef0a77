/** A rhythm for a tab that has none, from the recording: where in its bar each column falls.
 * In: Score without rhythm, the player's path. Out: the same Score with ticks that follow the playing.
 * Method: where the spacing of the columns fits the playing it is the rhythm. Else bars with equally many columns usually share one; for each column the median of its place in the bar, as played, over
 * the bars that are about as long as the middle one. Fewer than three such bars are spread evenly.
 * Can't do: a tab without bar lines; bars of different lengths. */
import { median } from "../base/numbers.js";
import type { CoarsePath } from "./coarse.js";
import { barPasses } from "./structure.js";
import type { PlayedBar, Score } from "./written.js";

const GUESS = Object.freeze({
  barTicks: 96,
  leastBars: 3,
  lengthShare: 0.25,
  spacingStray: 0.03,
  pickupShare: 0.8,
});

/** The score with guessed ticks; unchanged when there are too few bars to learn from. hasRhythm stays false. */
export function guessRhythm(score: Score, path: CoarsePath): Score {
  if (score.hasRhythm || score.bars.length < GUESS.leastBars) return score;
  const passes = barPasses(score, path);
  const lengths: (number | undefined)[] = passes.map((pass, i) => {
    const next = passes[i + 1];
    return pass.complete && next?.barIdx === pass.barIdx + 1 ? next.fromSec - pass.fromSec : undefined;
  });
  const usual = median(lengths.filter((l): l is number => l !== undefined));
  if (usual === undefined) return score;
  const sharesOf = new Map<number, number[][]>();
  passes.forEach((pass, i) => {
    const length = lengths[i];
    if (length === undefined || Math.abs(length - usual) > GUESS.lengthShare * usual) return;
    const count = pass.visitSec.length;
    const list = sharesOf.get(count) ?? [];
    sharesOf.set(count, list);
    list.push(pass.visitSec.map((sec) => (sec - pass.fromSec) / length));
  });
  // The spacing of the columns, where it tells: share of the bar at which each is written.
  const spacingOf = (bar: PlayedBar): number[] =>
    score.events.slice(bar.firstEvent, bar.endEvent).map((e) => e.tick / bar.lengthTicks);
  const strays: number[] = [];
  passes.forEach((pass, i) => {
    const bar = score.bars[pass.barIdx];
    const length = lengths[i];
    if (!bar || length === undefined || Math.abs(length - usual) > GUESS.lengthShare * usual) return;
    const spacing = spacingOf(bar);
    pass.visitSec.forEach((sec, k) => {
      if (k > 0)
        strays.push(Math.abs((sec - pass.fromSec) / length - ((spacing[k] ?? 0) - (spacing[0] ?? 0))));
    });
  });
  const spacingTells = (median(strays) ?? 1) < GUESS.spacingStray;
  const columnShare = (bar: PlayedBar, column: number): number => {
    const count = bar.endEvent - bar.firstEvent;
    if (spacingTells) return spacingOf(bar)[column] ?? 0;
    const list = sharesOf.get(count) ?? [];
    const middle =
      list.length >= GUESS.leastBars ? median(list.map((shares) => shares[column] ?? 0)) : undefined;
    return middle ?? column / count;
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
    up?.barIdx === 0 && first?.barIdx === 1 && up.complete && upSec > 0 && upSec < GUESS.pickupShare * usual;
  const events = score.events.map((event, e) => {
    const bar = score.bars[event.barIdx];
    if (!bar) return event;
    if (isPickup && event.barIdx === 0) {
      const beforeSec = first.fromSec - (up.visitSec[e - bar.firstEvent] ?? up.fromSec);
      return { ...event, startTick: GUESS.barTicks * (1 - beforeSec / usual) };
    }
    const share = columnShare(bar, e - bar.firstEvent);
    return { ...event, startTick: (event.barIdx + share) * GUESS.barTicks };
  });
  return { events, bars, hasRhythm: false };
}
