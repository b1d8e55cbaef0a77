// Picking hand.
// In: fretted notes. Out: the same notes, in the same order, with p, i, m or a.
// Method: Viterbi over the ways each event can be plucked; the hand lies on strings 3-2-1 or up to two strings lower; a second pass
// lets the same tick of other bars speak, so that a pattern keeps its fingers through changing chords.
// Source: common practice of classical and fingerstyle schools (p on 6-5-4, i on 3, m on 2, a on 1), no published source.
// Can't: strums with the back of the nail, the little finger, a pick.
import { PICK_WEIGHTS, type PickWeights } from "./cost-table.js";
import type { FrettedNote, Lock, PickFinger } from "./fretted.js";

const FINGERS: readonly PickFinger[] = ["p", "i", "m", "a"];
const HOME: readonly number[] = [4, 3, 2, 1]; // string of p's upper edge, i, m, a
const LOCK_COST = 100; // what a hand wrote is kept at any price
const MOVE_COST = 1.0; // the hand moves to other strings, once a chord rather than once a note
const LOW_HOME_COST: readonly number[] = [0, 0.12, 0.8]; // each event with the hand this many strings lower
const THUMB_QUICK_SEC = 0.14; // the thumb swings from bass to bass down to about this pace
const WORST_PLUCK = 6;
const HABIT_FLOOR = 0.08; // a finger never seen at a tick is unlikely, not impossible
const HABIT_BARS = 3;

/** Fingers along an event's notes, lowest string first, and where the hand lies (strings below home). */
type Pluck = { fingers: readonly number[]; low: number; cost: number };
type PluckEvent = { onsetSec: number; tick: number; idx: number[]; strings: number[] };

/** @param options.locks fingers that a hand wrote, by bar, tick and pitch */
export function pickFingers(
  notes: readonly FrettedNote[],
  options: { locks?: readonly Lock[]; weights?: Partial<PickWeights> } = {},
): FrettedNote[] {
  const w = { ...PICK_WEIGHTS, ...options.weights };
  const locked = new Map<string, PickFinger>();
  for (const l of options.locks ?? [])
    if (l.finger !== undefined) locked.set(`${l.bar}|${l.tick}|${l.midi}`, l.finger);
  const lockOf = (idx: number): number => {
    const n = notes[idx];
    const finger = n === undefined ? undefined : locked.get(`${n.bar}|${n.tick}|${n.midi}`);
    return finger === undefined ? -1 : FINGERS.indexOf(finger);
  };
  const events = pluckEvents(notes);
  const known = new Map<string, Pluck[]>();
  const options1 = events.map((e) => {
    const key = e.strings.join("");
    let plucks = known.get(key);
    if (plucks === undefined) {
      plucks = plucksOf(e.strings, w);
      known.set(key, plucks);
    }
    if (locked.size === 0) return plucks;
    const fixed = e.idx.map(lockOf);
    if (fixed.every((f) => f < 0)) return plucks;
    return withLocks(plucks, fixed);
  });
  const first = viterbi(events, options1, w);
  const habits = habitsOf(notes, events, first);
  const known2 = new Map<string, Pluck[]>();
  const options2 = events.map((e, k) => {
    const habit = habits.get(e.tick);
    const plucks = options1[k] ?? [];
    if (habit === undefined) return plucks;
    const key = `${e.tick} ${e.strings.join("")}`;
    const free = known.get(e.strings.join("")) === plucks;
    const before = free ? known2.get(key) : undefined;
    if (before !== undefined) return before;
    const weighed = plucks.map((p) => {
      let cost = p.cost;
      for (const f of p.fingers) cost -= w.pattern * Math.log(Math.min(1, habit[f] ?? 0) + HABIT_FLOOR);
      return { ...p, cost };
    });
    if (free) known2.set(key, weighed);
    return weighed;
  });
  const path = viterbi(events, options2, w);
  const out = notes.map((n) => ({ ...n }));
  events.forEach((e, k) => {
    e.idx.forEach((idx, at) => {
      const note = out[idx];
      const finger = FINGERS[path[k]?.fingers[at] ?? 0];
      if (note !== undefined && finger !== undefined) note.finger = finger;
    });
  });
  shareTwins(out, events);
  return out;
}

const TOGETHER_SEC = 0.25; // a rolled chord lies within this

/** One entry for each string of each grid place, lowest string first. */
function pluckEvents(notes: readonly FrettedNote[]): PluckEvent[] {
  const order = notes.map((n, idx) => ({ n, idx }));
  order.sort(
    (a, b) =>
      a.n.bar - b.n.bar ||
      a.n.tick - b.n.tick ||
      Number(b.n.grace ?? false) - Number(a.n.grace ?? false) ||
      b.n.string - a.n.string ||
      a.n.onsetSec - b.n.onsetSec ||
      a.idx - b.idx,
  );
  const events: PluckEvent[] = [];
  let bar = Number.NaN;
  let open: PluckEvent | undefined;
  let grace = false;
  for (const { n, idx } of order) {
    const same =
      open !== undefined &&
      bar === n.bar &&
      open.tick === n.tick &&
      !grace &&
      n.grace !== true &&
      Math.abs(n.onsetSec - open.onsetSec) <= TOGETHER_SEC;
    if (!same || open === undefined) {
      open = { onsetSec: n.onsetSec, tick: n.tick, idx: [idx], strings: [n.string] };
      events.push(open);
    } else if (!open.strings.includes(n.string)) {
      open.idx.push(idx);
      open.strings.push(n.string);
      open.onsetSec = Math.min(open.onsetSec, n.onsetSec);
    }
    bar = n.bar;
    grace = n.grace === true;
  }
  return events.sort((a, b) => a.onsetSec - b.onsetSec || a.tick - b.tick);
}

/** A note that shares its string and grid place with another is plucked by the same finger. */
function shareTwins(out: FrettedNote[], events: readonly PluckEvent[]): void {
  const fingerAt = new Map<string, PickFinger>();
  const done = new Set<number>();
  for (const e of events)
    for (const idx of e.idx) {
      const n = out[idx];
      if (n === undefined) continue;
      done.add(idx);
      fingerAt.set(`${n.bar}|${n.tick}|${n.string}`, n.finger);
    }
  out.forEach((n, idx) => {
    if (!done.has(idx)) n.finger = fingerAt.get(`${n.bar}|${n.tick}|${n.string}`) ?? n.finger;
  });
}

/** What one finger costs on one string with the hand `low` strings below home. */
function awayCost(finger: number, string: number, low: number, w: Readonly<PickWeights>): number {
  if (finger === 0) return string >= 4 ? 0 : w.thumbHigh * (4 - string);
  const away = Math.abs(string - (HOME[finger] ?? 0) - low);
  return w.away * away + Math.max(0, string - 4 - Math.max(0, low - 1)) * w.bassByFinger;
}

/** All ways to pluck these strings at once: fingers in the order of strings, p over several where fingers run out. */
function plucksOf(strings: readonly number[], w: Readonly<PickWeights>): Pluck[] {
  const out: Pluck[] = [];
  const fingers: number[] = [];
  const place = (k: number, low: number, cost: number): void => {
    const string = strings[k];
    if (string === undefined) {
      out.push({ fingers: [...fingers], low, cost: cost + (LOW_HOME_COST[low] ?? 0) });
      return;
    }
    const last = fingers[k - 1] ?? -1;
    const lastString = strings[k - 1] ?? 0;
    for (let f = Math.max(0, last); f < 4; f++) {
      if (f === last && f !== 0) continue;
      let more = awayCost(f, string, low, w);
      if (f === last) more += w.brush;
      else if (last > 0) more += w.gap * Math.abs(f - last - (lastString - string));
      fingers.push(f);
      place(k + 1, low, cost + more);
      fingers.pop();
    }
  };
  place(0, 0, 0);
  place(0, 1, 0);
  place(0, 2, 0);
  // No context outweighs a way that is this much worse.
  const least = Math.min(...out.map((p) => p.cost));
  return out.filter((p) => p.cost <= least + WORST_PLUCK);
}

function withLocks(plucks: readonly Pluck[], fixed: readonly number[]): Pluck[] {
  const fits = plucks.filter((p) => p.fingers.every((f, k) => fixed[k] === -1 || fixed[k] === f));
  if (fits.length > 0) return fits;
  // Written against the order of strings: the hand's word stands, the others fit around it.
  return plucks.map((p) => ({
    ...p,
    fingers: p.fingers.map((f, k) => (fixed[k] === undefined || fixed[k] === -1 ? f : fixed[k])),
    cost: p.cost + LOCK_COST,
  }));
}

/** From one event to the next. */
function stepCost(a: PluckEvent, p: Pluck, b: PluckEvent, q: Pluck, w: Readonly<PickWeights>): number {
  const gapSec = Math.max(0.01, b.onsetSec - a.onsetSec);
  const quick = Math.min(1.5, w.quickSec / gapSec);
  const again = Math.min(1, (w.againSec / gapSec) ** 2);
  const thumb = Math.min(1, (THUMB_QUICK_SEC / gapSec) ** 3);
  let cost = MOVE_COST * Math.abs(p.low - q.low);
  for (let j = 0; j < q.fingers.length; j++) {
    const f = q.fingers[j] ?? 0;
    const to = b.strings[j] ?? 0;
    for (let k = 0; k < p.fingers.length; k++) {
      const g = p.fingers[k] ?? 0;
      const from = a.strings[k] ?? 0;
      if (f === g) {
        if (f > 0) cost += from === to ? again * w.again : quick * w.across;
        else cost += thumb * (from === to ? w.again : w.across);
      } else if (from !== to && f > g !== to < from) cost += quick * w.cross;
    }
  }
  return cost;
}

function viterbi(
  events: readonly PluckEvent[],
  plucks: readonly (readonly Pluck[])[],
  w: Readonly<PickWeights>,
): Pluck[] {
  const back: number[][] = [];
  let costs: number[] = [];
  events.forEach((event, e) => {
    const here = plucks[e] ?? [];
    const before = events[e - 1];
    const were = plucks[e - 1] ?? [];
    const from: number[] = [];
    const next = here.map((q, j) => {
      from[j] = 0;
      if (before === undefined) return q.cost;
      let best = Number.POSITIVE_INFINITY;
      were.forEach((p, k) => {
        const so = costs[k] ?? 0;
        if (so >= best) return;
        const total = so + stepCost(before, p, event, q, w);
        if (total < best) {
          best = total;
          from[j] = k;
        }
      });
      return best + q.cost;
    });
    back.push(from);
    costs = next;
  });
  const path: Pluck[] = [];
  let at = costs.indexOf(Math.min(...costs));
  for (let e = events.length - 1; e >= 0; e--) {
    const pluck = plucks[e]?.[at];
    if (pluck === undefined) break;
    path[e] = pluck;
    at = back[e]?.[at] ?? 0;
  }
  return path;
}

/** Share of the bars with a note at this tick in which each finger plucks there; ticks of fewer than HABIT_BARS bars have no habit. */
function habitsOf(
  notes: readonly FrettedNote[],
  events: readonly PluckEvent[],
  path: readonly Pluck[],
): Map<number, number[]> {
  const counts = new Map<number, number[]>();
  const bars = new Map<number, Set<number>>();
  events.forEach((e, k) => {
    const count = counts.get(e.tick) ?? [0, 0, 0, 0];
    counts.set(e.tick, count);
    const seen = bars.get(e.tick) ?? new Set<number>();
    bars.set(e.tick, seen);
    const bar = notes[e.idx[0] ?? 0]?.bar;
    if (bar !== undefined) seen.add(bar);
    for (const f of path[k]?.fingers ?? []) count[f] = (count[f] ?? 0) + 1;
  });
  const habits = new Map<number, number[]>();
  for (const [tick, count] of counts) {
    const total = bars.get(tick)?.size ?? 0;
    if (total >= HABIT_BARS)
      habits.set(
        tick,
        count.map((c) => c / total),
      );
  }
  return habits;
}
