import type { HandWeights } from "./cost-table.js";
import type { SearchNote } from "./search-events.js";

// Evidence that notes lend each other: the same pitch at the same tick of bars that are the same music, and the string that
// is plucked at a tick through the changing chords of a pattern.

const MOST_SIBLINGS = 4; // further repeats of one player add little: their errors are alike
const UNSURE = 0.03; // no place is ruled out by siblings alone
const PATTERN_BARS = 3; // a tick must sound in this many bars before it is a habit

/** Keys notes by group, tick and pitch. Bars outside the table have no siblings. */
function siblings(
  notes: readonly SearchNote[],
  groupOfBar: readonly number[] | undefined,
): Map<string, number[]> {
  const sets = new Map<string, number[]>();
  if (groupOfBar === undefined) return sets;
  notes.forEach((n, k) => {
    const group = groupOfBar[n.bar - 1];
    if (group === undefined) return;
    const key = `${group}|${n.tick}|${n.midi}`;
    const set = sets.get(key);
    if (set === undefined) sets.set(key, [k]);
    else set.push(k);
  });
  return sets;
}

/** Cost of each string for each note from the sound, siblings' added up. @returns shape (notes, 6), string 1 first */
export function poolShares(
  notes: readonly SearchNote[],
  w: Readonly<HandWeights>,
  groupOfBar: readonly number[] | undefined,
): Float64Array {
  const extra = new Float64Array(notes.length * 6);
  notes.forEach((n, k) => {
    for (let s = 0; s < 6; s++) extra[k * 6 + s] = w.share * n.evidence[s]!;
  });
  for (const set of siblings(notes, groupOfBar).values()) {
    const heard = set.filter((k) => notes[k]!.evidence.some((x) => x > 0));
    if (set.length < 2 || heard.length === 0) continue;
    const strength = (w.share * Math.min(heard.length, MOST_SIBLINGS)) / heard.length;
    for (let s = 0; s < 6; s++) {
      let sum = 0;
      for (const k of heard) sum += notes[k]!.evidence[s]!;
      for (const k of set) extra[k * 6 + s] = strength * sum;
    }
  }
  return extra;
}

/** Adds what the first pass found in siblings and in the pattern to `extra`. @returns whether anything was added */
export function poolPlaces(
  notes: readonly SearchNote[],
  marginals: Float64Array,
  extra: Float64Array,
  w: Readonly<HandWeights>,
  groupOfBar: readonly number[] | undefined,
): boolean {
  let added = false;
  const apply = (set: readonly number[], weight: number): void => {
    const mean = new Float64Array(6);
    for (const k of set) for (let s = 0; s < 6; s++) mean[s]! += marginals[k * 6 + s]! / set.length;
    for (let s = 0; s < 6; s++) {
      const cost = -weight * Math.log(mean[s]! + UNSURE);
      for (const k of set) extra[k * 6 + s]! += cost;
    }
    added = true;
  };
  for (const set of siblings(notes, groupOfBar).values()) if (set.length > 1) apply(set, w.form);
  if (w.pattern > 0) patternHabits(notes, marginals, extra, w);
  return added || w.pattern > 0;
}

/** How often each string is plucked at a tick of the bar, over all bars: a string that is never plucked there costs. */
function patternHabits(
  notes: readonly SearchNote[],
  marginals: Float64Array,
  extra: Float64Array,
  w: Readonly<HandWeights>,
): void {
  const bars = new Map<number, Set<number>>();
  const habit = new Map<number, Float64Array>();
  notes.forEach((n, k) => {
    let seen = bars.get(n.tick);
    let sum = habit.get(n.tick);
    if (seen === undefined || sum === undefined) {
      seen = new Set();
      sum = new Float64Array(6);
      bars.set(n.tick, seen);
      habit.set(n.tick, sum);
    }
    seen.add(n.bar);
    for (let s = 0; s < 6; s++) sum[s]! += marginals[k * 6 + s]!;
  });
  notes.forEach((n, k) => {
    const count = bars.get(n.tick)?.size ?? 0;
    const sum = habit.get(n.tick);
    if (count < PATTERN_BARS || sum === undefined) return;
    const weight = w.pattern * regularity(sum, count);
    if (weight === 0) return;
    for (let s = 0; s < 6; s++) extra[k * 6 + s]! -= weight * Math.log(Math.min(1, sum[s]! / count) + 0.1);
  });
}

const IRREGULAR = 0.38; // a note that moves over two or three strings: no habit
const REGULAR = 0.65; // most bars alike

/** 0 when the strings at a tick change from bar to bar, 1 when they are the same; chords count like single notes. */
function regularity(sum: Float64Array, bars: number): number {
  let all = 0;
  let squares = 0;
  for (let s = 0; s < 6; s++) {
    const share = Math.min(1, sum[s]! / bars);
    all += share;
    squares += share * share;
  }
  return all === 0 ? 0 : Math.min(1, Math.max(0, (squares / all - IRREGULAR) / (REGULAR - IRREGULAR)));
}
