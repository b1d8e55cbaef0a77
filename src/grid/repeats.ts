// Which bars are the same music.
// In: placed notes and the grid. Out: a group number a bar.
// Method: two bars are the same music when their notes are, but for a slip or what a listener may mishear, or when they are the same
// up to the middle and end otherwise over the same pitches (a varied ending). Groups grow bar by bar; then every bar is held against
// what most bars of a group have, in which single slips and mishearings no longer stand. Source: common practice, no published
// source. Cannot do: the same music in another key or another place of the bar.
import { median } from "../base/numbers.js";
import type { BarGroups, Grid, PlacedNote } from "./grid.js";

const REPEAT_DEFAULTS = Object.freeze({
  nearTicks: 3, // a note one thirty-second off is the same note, misplaced
  ghost: 0.5, // weight of what may be an overtone of a note struck with it, or the same string heard twice
  restrikeTicks: 6, // the same pitch this soon again may be the same pluck
  believed: 0.9, // confidence from which a note has its whole weight
  doubted: 0.3, // and at which it has none
  replaced: 1, // cost of another note in a note's place
  missing: 0.5, // and of a note that the other bar lacks: it may have been missed
  slip: 1, // cost allowed to a bar whatever its length: one note otherwise
  misheard: 0.06, // and for each of its notes
  endingMisheard: 0.16, // for each note of a bar's first part, where an ending is varied
  leastBefore: 2, // notes that must be the same before an ending
  rounds: 2,
  sample: 16, // bars that say what most of a group have
  joins: 0.6, // cost at which two groups are one
  leastParted: 2, // bars on either side, to part a group
  mostTell: 0.8, // part of the bars that have the one note or the other
  keepsRhythm: 0.75, // part of the usual steps after the middle
  alone: 1, // cost at which a bar without siblings joins a group
  stay: 0.05, // a bar moves only for so much less cost
  bassBelow: 60, // midi; what opens a bar higher is no bass
  walk: 6, // semitones above its lowest note that a bar's bass may walk to its end
  foreign: 1.2, // weight of upper pitches in an ending that the other bar never uses, before it is another chord
});

type Heard = { tick: number; midi: number; weight: number };
type Bar = readonly Heard[];

/** Groups bars that are the same music but for a slip or a varied ending.
 * @returns groupOfBar[bar − 1], numbered from 0 by first coming; empty bars are like each other only */
export function groupBars(notes: readonly PlacedNote[], grid: Grid): BarGroups {
  const bars = heardBars(notes, grid.barCount);
  const middle = middleTick(grid.meter.beats);
  const groups: number[][] = [];
  bars.forEach((bar, b) => {
    let best: number[] | undefined;
    let bestCost = Number.POSITIVE_INFINITY;
    for (const members of groups) {
      const costs = members.slice(-RECENT).map((m) => costOf(bars[m] as Bar, bar, middle));
      const cost = costs.sort((x, y) => x - y)[costs.length >> 1] as number; // like most of the group, not its oddest member
      if (cost < bestCost - 1e-9) {
        bestCost = cost;
        best = members;
      }
    }
    if (best !== undefined && bestCost <= 1) best.push(b);
    else groups.push([b]);
  });
  const joined = join(bars, settle(bars, groups, middle), middle);
  const parted = joined.flatMap((g) => split(bars, g, middle));
  const settled = settle(bars, parted, middle);
  const groupOfBar = new Array<number>(bars.length).fill(0);
  settled.forEach((members, g) => {
    for (const b of members) groupOfBar[b] = g;
  });
  return { groupOfBar };
}

const RECENT = 8; // bars of a group that a new one is held against

/** Where an ending may begin: the middle of the bar, the third beat of three. */
const middleTick = (beats: number): number => (beats % 2 === 0 ? beats * 12 : (beats - 1) * 24);

function heardBars(notes: readonly PlacedNote[], barCount: number): Bar[] {
  const bars: PlacedNote[][] = Array.from({ length: barCount }, () => []);
  for (const n of notes) if (n.grace !== true) bars[n.bar - 1]?.push(n);
  const { ghost, restrikeTicks, believed, doubted } = REPEAT_DEFAULTS;
  return bars.map((bar) =>
    bar.map((n) => {
      const isGhost = bar.some(
        (o) =>
          o !== n &&
          ((o.tick === n.tick && [12, 19, 24].includes(n.midi - o.midi)) ||
            (o.midi === n.midi && n.tick > o.tick && n.tick - o.tick <= restrikeTicks)),
      );
      const sure = Math.min(1, Math.max(0.05, (n.confidence - doubted) / (believed - doubted)));
      return { tick: n.tick, midi: n.midi, weight: sure * (isGhost ? ghost : 1) };
    }),
  );
}

/** Weight of the upper pitches in one bar's ending that the other bar never uses. An ending of basses only has none: they may walk. */
function foreignIn(a: Bar, b: Bar, middle: number): number {
  const upper = (bar: Bar): Heard[] => {
    const walkBelow = walkBelowOf(bar);
    return bar.filter((n) => n.tick >= middle && n.midi > walkBelow);
  };
  const foreign = (list: readonly Heard[], other: Bar): number =>
    list.reduce((sum, n) => (other.some((o) => o.midi === n.midi) ? sum : sum + n.weight), 0);
  const [upperA, upperB] = [upper(a), upper(b)];
  if (upperA.length === 0 || upperB.length === 0) return 0;
  return Math.max(foreign(upperA, b), foreign(upperB, a));
}

/** A bar's bass may walk up to here. */
const walkBelowOf = (bar: Bar): number => Math.min(...bar.map((n) => n.midi)) + REPEAT_DEFAULTS.walk;

/** What of two bars has no partner in the other, up to a tick. */
function unmatched(a: Bar, b: Bar, untilTick: number): { onlyA: Heard[]; onlyB: Heard[] } {
  const rest = b.filter((n) => n.tick < untilTick);
  const onlyA: Heard[] = [];
  for (const n of a) {
    if (n.tick >= untilTick) continue;
    const k = rest.findIndex((o) => isSame(o, n));
    if (k >= 0) rest.splice(k, 1);
    else onlyA.push(n);
  }
  return { onlyA, onlyB: rest };
}

/** Cost of the differences: replaced notes, and notes that one bar lacks. */
function differences(a: Bar, b: Bar, untilTick: number): number {
  const { onlyA, onlyB } = unmatched(a, b, untilTick);
  let cost = 0;
  const rest = [...onlyB];
  for (const n of onlyA) {
    const k = rest.findIndex((o) => Math.abs(o.tick - n.tick) <= REPEAT_DEFAULTS.nearTicks);
    if (k < 0) cost += REPEAT_DEFAULTS.missing * n.weight;
    else {
      const other = rest.splice(k, 1)[0] as Heard;
      cost += REPEAT_DEFAULTS.replaced * Math.min(n.weight, other.weight);
    }
  }
  for (const n of rest) cost += REPEAT_DEFAULTS.missing * n.weight;
  return cost;
}

/** Do both bars open on a bass, surely, and on another one? Octaves may be misheard. */
function anotherBass(a: Bar, b: Bar): boolean {
  const bass = (bar: Bar): Heard | undefined =>
    bar.filter((n) => n.tick === 0 && n.weight > 0.5).sort((x, y) => x.midi - y.midi)[0];
  const [x, y] = [bass(a), bass(b)];
  if (x === undefined || y === undefined || Math.max(x.midi, y.midi) >= REPEAT_DEFAULTS.bassBelow)
    return false;
  return (x.midi - y.midi) % 12 !== 0;
}

/** Differences of two bars over what the same music is allowed: at most 1 when they are the same. */
function costOf(a: Bar, b: Bar, middle: number): number {
  if (a.length === 0 || b.length === 0) return a.length === b.length ? 0 : Number.POSITIVE_INFINITY;
  const { slip, misheard, endingMisheard, leastBefore, foreign } = REPEAT_DEFAULTS;
  if (anotherBass(a, b)) return Number.POSITIVE_INFINITY;
  const whole =
    differences(a, b, Number.POSITIVE_INFINITY) / (slip + misheard * Math.max(a.length, b.length));
  if (whole <= 1) return whole;
  const before = (bar: Bar): number => bar.filter((n) => n.tick < middle).length;
  const common = Math.min(before(a), before(b));
  if (common < leastBefore) return whole;
  if (foreignIn(a, b, middle) > foreign) return whole;
  const varied = differences(a, b, middle) / (endingMisheard * Math.max(before(a), before(b)));
  return Math.min(whole, varied <= 1 ? 0.5 + 0.5 * varied : varied);
}

/** Holds every bar against what most bars of each group have, and moves it to the group it is most like. */
function settle(bars: readonly Bar[], groups: readonly (readonly number[])[], middle: number): number[][] {
  let now = groups.map((g) => [...g]);
  for (let round = 0; round < REPEAT_DEFAULTS.rounds; round++) {
    const models = now.map((members) => modelOf(sampleOf(members).map((m) => bars[m] as Bar)));
    const next: number[][] = now.map(() => []);
    now.forEach((members, own) => {
      const rests = new Map<string, Bar>();
      for (const b of members) {
        let best = own;
        let bestCost: number = REPEAT_DEFAULTS.alone;
        if (members.length > 1) {
          const rest = sampleOf(members.filter((m) => m !== b));
          const key = rest.join();
          const model = rests.get(key) ?? modelOf(rest.map((m) => bars[m] as Bar));
          rests.set(key, model);
          bestCost = costOf(model, bars[b] as Bar, middle);
        }
        models.forEach((model, g) => {
          if (g === own) return;
          const cost = costOf(model, bars[b] as Bar, middle);
          if (cost < bestCost - REPEAT_DEFAULTS.stay) {
            bestCost = cost;
            best = g;
          }
        });
        (next[best] as number[]).push(b);
      }
    });
    now = next.filter((g) => g.length > 0);
  }
  return now.map((g) => g.sort((x, y) => x - y)).sort((x, y) => (x[0] as number) - (y[0] as number));
}

/** Joins groups whose bars are the same for the most part, where noise or an ending that comes again had kept them apart. */
function join(bars: readonly Bar[], groups: readonly (readonly number[])[], middle: number): number[][] {
  const joined: number[][] = [];
  for (const group of groups) {
    const model = modelOf(sampleOf(group).map((b) => bars[b] as Bar));
    const into = joined.find(
      (g) =>
        Math.min(g.length, group.length) >= 2 &&
        costOf(modelOf(sampleOf(g).map((b) => bars[b] as Bar)), model, middle) <= REPEAT_DEFAULTS.joins,
    );
    if (into === undefined) joined.push([...group]);
    else into.push(...group);
  }
  return joined;
}

/** Parts a group in two where several bars have one note and several another in its place: no slip comes so often.
 * In the part where an ending may begin only upper notes speak, and only those of bars that keep the rhythm there. */
function split(bars: readonly Bar[], group: readonly number[], middle: number): number[][] {
  const endingSteps = (b: number): number =>
    new Set((bars[b] as Bar).filter((n) => n.tick >= middle).map((n) => n.tick)).size;
  const usualSteps = median(group.map(endingSteps)) ?? 0;
  const regular = group.filter((b) => endingSteps(b) >= REPEAT_DEFAULTS.keepsRhythm * usualSteps);
  const holders: { note: Heard; members: Set<number> }[] = [];
  for (const b of regular) {
    const bar = bars[b] as Bar;
    const walkBelow = walkBelowOf(bar);
    for (const n of bar) {
      if (n.weight < 0.5 || (n.tick >= middle && n.midi <= walkBelow)) continue;
      const known = holders.find((h) => isSame(h.note, n));
      if (known === undefined) holders.push({ note: n, members: new Set([b]) });
      else known.members.add(b);
    }
  }
  let best: [number[], number[]] | undefined;
  for (const x of holders)
    for (const y of holders) {
      if (y.note.midi <= x.note.midi || y.note.tick !== x.note.tick) continue;
      const onlyX = [...x.members].filter((b) => !y.members.has(b));
      const onlyY = [...y.members].filter((b) => !x.members.has(b));
      const least = Math.min(onlyX.length, onlyY.length);
      const told = onlyX.length + onlyY.length >= REPEAT_DEFAULTS.mostTell * regular.length;
      if (least < REPEAT_DEFAULTS.leastParted || !told) continue;
      if (best === undefined || least > Math.min(best[0].length, best[1].length)) best = [onlyX, onlyY];
    }
  if (best === undefined) return [[...group]];
  const second = best[1];
  return [group.filter((b) => !second.includes(b)), second];
}

const isSame = (a: Heard, b: Heard): boolean =>
  a.midi === b.midi && Math.abs(a.tick - b.tick) <= REPEAT_DEFAULTS.nearTicks;

/** Of many bars a fair sample tells as much. */
function sampleOf(bars: readonly number[]): number[] {
  const each = Math.ceil(bars.length / REPEAT_DEFAULTS.sample);
  return bars.filter((_, k) => k % each === 0);
}

/** What most of some bars have: a note that half of them have has its mean weight; a bar alone is its own model. */
function modelOf(members: readonly Bar[]): Bar {
  if (members.length === 1) return members[0] as Bar;
  const model: { tick: number; midi: number; weight: number; count: number }[] = [];
  for (const bar of members)
    for (const n of bar) {
      const known = model.find((o) => isSame(o, n));
      if (known === undefined) model.push({ ...n, count: 1 });
      else {
        known.weight += n.weight;
        known.count++;
      }
    }
  return model
    .filter((n) => 2 * n.count >= members.length)
    .map(({ tick, midi, weight, count }) => ({
      tick,
      midi,
      weight: (weight / count) * Math.min(1, (2 * count) / members.length - 0.5),
    }));
}
