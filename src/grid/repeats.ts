// Which bars are the same music.
// In: placed notes and the grid. Out: a group number a bar, and how alike a bar is to its group.
// Method: bars are compared by their notes (tick and pitch), and by the pitches they use: a varied ending keeps the
// chord's pitches and changes the steps, another chord keeps the steps and changes the pitches. A bar joins the group
// it is most like. Source: common practice, no published source. Cannot do: the same music in another key or place of the bar.
import type { BarGroups, Grid, PlacedNote } from "./grid.js";

export const REPEAT_DEFAULTS = Object.freeze({
  same: 0.62, // notes in common over notes in either: the same but for slips and notes unheard
  sameLeastPitches: 0.6, // and then at least this part of the pitches
  varied: 0.26, // a varied bar shares at least this much of the notes
  variedPitches: 0.86, // and the fewer pitches are nearly all among the others'
  believed: 0.6, // notes less sure than this do not speak for another chord
  bassBelow: 60, // midi; what opens a bar higher is no bass
  mostReplaced: 1, // steps
  nearTicks: 3, // a note one thirty-second off is the same note, misplaced
});

type BarContent = {
  keys: Map<string, number>;
  pitches: Map<number, number>;
  /** Lowest pitch by step, of notes believed, and all pitches by step. */
  byStep: Map<number, number[]>;
};

/** Groups bars that are the same music but for a slip or a varied ending.
 * @returns groupOfBar[bar − 1], numbered from 0 by first coming; an empty bar stands alone with the other empty ones;
 *   similarity[bar − 1] 0…1 to the rest of its group, 1 for a bar without siblings */
export function groupBars(notes: readonly PlacedNote[], grid: Grid): BarGroups {
  const bars: BarContent[] = Array.from({ length: grid.barCount }, () => ({
    keys: new Map(),
    pitches: new Map(),
    byStep: new Map(),
  }));
  for (const n of notes) {
    const bar = bars[n.bar - 1];
    if (bar === undefined || n.grace === true) continue;
    const key = `${Math.round(n.tick / REPEAT_DEFAULTS.nearTicks)}:${n.midi}`;
    bar.keys.set(key, Math.max(bar.keys.get(key) ?? 0, n.confidence));
    bar.pitches.set(n.midi, (bar.pitches.get(n.midi) ?? 0) + n.confidence);
    if (n.confidence >= REPEAT_DEFAULTS.believed) {
      const step = Math.round(n.tick / REPEAT_DEFAULTS.nearTicks);
      bar.byStep.set(step, [...(bar.byStep.get(step) ?? []), n.midi]);
    }
  }
  const groups: number[][] = [];
  const groupOfBar = bars.map((bar, b) => {
    let best = -1;
    let bestLikeness = 0;
    groups.forEach((members, g) => {
      const recent = members.slice(-8);
      const likes = recent.map((m) => likeness(bars[m] as BarContent, bar)).sort((x, y) => y - x);
      // Like most of the group, not only its oddest member.
      const value = likes[Math.floor((likes.length - 1) / 2)] as number;
      if (value > bestLikeness + 1e-9) {
        bestLikeness = value;
        best = g;
      }
    });
    if (best < 0) {
      groups.push([b]);
      return groups.length - 1;
    }
    (groups[best] as number[]).push(b);
    return best;
  });
  const similarity = bars.map((bar, b) => {
    const others = (groups[groupOfBar[b] as number] as number[]).filter((m) => m !== b);
    if (others.length === 0) return 1;
    return others.reduce((s, m) => s + shared(bars[m] as BarContent, bar), 0) / others.length;
  });
  return { groupOfBar, similarity };
}

/** 0 when two bars are different music, else how much they share. */
function likeness(a: BarContent, b: BarContent): number {
  if (a.keys.size === 0 || b.keys.size === 0) return a.keys.size === b.keys.size ? 1 : 0;
  const notes = shared(a, b);
  const pitches = sharedPitches(a, b);
  if (anotherChord(a, b)) return 0;
  const { same, sameLeastPitches, varied, variedPitches } = REPEAT_DEFAULTS;
  if (notes >= same && pitches >= sameLeastPitches) return notes;
  if (notes >= varied && pitches >= variedPitches) return notes;
  return 0;
}

/** Another chord: the bar opens on another bass, or at a step a pitch that the one bar never uses stands where
 * the other has one that this never uses. A slip leaves the pitch it misses elsewhere in the bar, as a rule. */
function anotherChord(a: BarContent, b: BarContent): boolean {
  const bassA = Math.min(...(a.byStep.get(0) ?? [999]));
  const bassB = Math.min(...(b.byStep.get(0) ?? [999]));
  const { bassBelow, mostReplaced } = REPEAT_DEFAULTS;
  if (bassA < bassBelow && bassB < bassBelow && bassA !== bassB && Math.abs(bassA - bassB) !== 12) {
    const strange = (bass: number, other: BarContent): boolean => (other.pitches.get(bass) ?? 0) < 2;
    if (strange(bassA, b) || strange(bassB, a)) return true;
  }
  let replaced = 0;
  for (const [step, pitches] of a.byStep) {
    const others = b.byStep.get(step);
    if (others === undefined) continue;
    const gone = pitches.some((midi) => !b.pitches.has(midi));
    const come = others.some((midi) => !a.pitches.has(midi));
    if (gone && come) replaced++;
  }
  return replaced >= mostReplaced;
}

/** Notes in common over notes in either, weighed by confidence, 0…1. */
function shared(a: BarContent, b: BarContent): number {
  if (a.keys.size === 0 && b.keys.size === 0) return 1;
  let both = 0;
  let either = 0;
  for (const [key, x] of a.keys) {
    const y = b.keys.get(key) ?? 0;
    both += Math.min(x, y) > 0 ? Math.max(x, y) : 0;
    either += Math.max(x, y);
  }
  for (const [key, y] of b.keys) if (!a.keys.has(key)) either += y;
  return either > 0 ? both / either : 0;
}

/** How much of the fewer pitches the other bar has too, 0…1, weighed by how much they sound. */
function sharedPitches(a: BarContent, b: BarContent): number {
  const inside = (x: BarContent, y: BarContent): number => {
    let common = 0;
    let all = 0;
    for (const [midi, w] of x.pitches) {
      all += Math.min(w, 2);
      if (y.pitches.has(midi)) common += Math.min(w, 2);
    }
    return all > 0 ? common / all : 0;
  };
  return Math.max(inside(a, b), inside(b, a));
}
