/** Columns of tab that has no count, from where the numbers stand.
 * In: bars with their lines. Out: columns with ticks in the order of the text, and the meter they are spread over.
 * Method: numbers that overlap are one column. Where all columns of the tab stand on one even spacing, a bar's steps share its ticks evenly;
 * else a column's tick is its share of the bar's width. Never two columns on one tick. Only the order is to be trusted. */
import type { Meter } from "../grid/grid.js";
import { BEAT_TICKS } from "./bar-time.js";
import type { TextLine } from "./read-header.js";
import type { Columns } from "./read-notes.js";
import type { Stretch } from "./tab-lines.js";
import { readTokens } from "./token.js";

type SpacedBar = { strings: readonly TextLine[]; stretches: readonly Stretch[]; stretch: Stretch };

/** Steps of a bar that say a meter at a glance, when the words around the tab say none and the tab is in its default 4/4. */
const METER_OF_STEPS: Record<number, Meter> = { 6: { beats: 3, unit: 4 }, 10: { beats: 5, unit: 4 } };

/** @returns one list of columns a bar; characters count from the bar's first */
export function columnsBySpacing(
  bars: readonly SpacedBar[],
  meter: Meter,
): { bars: Columns[]; meter: Meter } {
  const groups = bars.map(columnGroups);
  const spacing = evenSpacing(bars, groups);
  const stepsOfBars = bars.map((bar, k) => stepsOf(bar, groups[k] ?? [], spacing));
  const usual = commonest(stepsOfBars);
  const chosen =
    meter.beats === 4 && meter.unit === 4 && usual !== undefined ? (METER_OF_STEPS[usual] ?? meter) : meter;
  let barLen = chosen.beats * BEAT_TICKS;
  // A bar with more columns than ticks (a whole song without bar lines) gets as many beats as it needs.
  const most = groups.reduce((max, g) => Math.max(max, g.length), 0);
  const beats = Math.min(64, Math.max(chosen.beats, Math.ceil(most / BEAT_TICKS)));
  barLen = beats * BEAT_TICKS;
  const columns = groups.map((group, k) => {
    const bar = bars[k];
    const width = bar ? bar.stretch.end - bar.stretch.start : 1;
    const steps = stepsOfBars[k];
    const raw = group.map(({ first }) =>
      steps !== undefined && spacing
        ? (Math.round((first - spacing.lead) / spacing.step) * barLen) / steps
        : (first / width) * barLen,
    );
    return spread(group, raw, barLen);
  });
  return { bars: columns, meter: { beats, unit: chosen.unit } };
}

type Group = { first: number; members: number[] };

/** Characters of a bar where something sounds, overlapping ones together. */
function columnGroups(bar: SpacedBar): Group[] {
  const spans: { at: number; end: number }[] = [];
  for (const [idx, stretch] of bar.stretches.entries()) {
    const line = bar.strings[idx];
    if (!line) continue;
    for (const note of readTokens(line.text, stretch.start, stretch.end).notes) {
      const at = note.column - stretch.start;
      const digits = /^[xX]?\d*/.exec(line.text.slice(note.column))?.[0].length ?? 1;
      spans.push({ at, end: at + Math.max(1, digits) - 1 });
    }
  }
  spans.sort((a, b) => a.at - b.at || a.end - b.end);
  const groups: (Group & { end: number })[] = [];
  for (const span of spans) {
    const last = groups.at(-1);
    if (last && span.at <= last.end && span.at - last.first <= 1) {
      last.members.push(span.at);
      last.end = Math.max(last.end, span.end);
    } else groups.push({ first: span.at, members: [span.at], end: span.end });
  }
  return groups;
}

/** One even spacing of all columns, if there is one of two characters or more. */
function evenSpacing(
  bars: readonly SpacedBar[],
  groups: readonly (readonly Group[])[],
): { step: number; lead: number } | undefined {
  const firsts = groups.flatMap((g) => g.map((c) => c.first));
  const lead = firsts.reduce((min, x) => Math.min(min, x), Number.POSITIVE_INFINITY);
  if (!Number.isFinite(lead)) return undefined;
  const gcd = (a: number, b: number): number => (b === 0 ? a : gcd(b, a % b));
  const step = firsts.reduce((g, x) => gcd(g, x - lead), 0);
  const isRegular = step >= 2 && bars.every((bar) => bar.stretch.end - bar.stretch.start > lead);
  return isRegular ? { step, lead } : undefined;
}

function stepsOf(
  bar: SpacedBar,
  group: readonly Group[],
  spacing: { step: number; lead: number } | undefined,
): number | undefined {
  if (!spacing) return undefined;
  const width = bar.stretch.end - bar.stretch.start;
  const last = group.at(-1);
  const needed = last ? Math.round((last.first - spacing.lead) / spacing.step) + 1 : 1;
  return Math.max(needed, 1, Math.floor((width - spacing.lead) / spacing.step));
}

function commonest(values: readonly (number | undefined)[]): number | undefined {
  const counts = new Map<number, number>();
  for (const v of values) if (v !== undefined) counts.set(v, (counts.get(v) ?? 0) + 1);
  return [...counts].sort((a, b) => b[1] - a[1] || a[0] - b[0])[0]?.[0];
}

/** Whole ticks, rising, within the bar; every member of a group is a column of that tick. */
function spread(groups: readonly Group[], raw: readonly number[], barLen: number): Columns {
  const columns: Columns = { at: [], ticks: [] };
  let before = -1;
  for (const [idx, group] of groups.entries()) {
    const left = groups.length - 1 - idx; // columns that still need a tick of their own
    const tick = Math.max(before + 1, Math.min(Math.round(raw[idx] ?? 0), barLen - 1 - left));
    for (const at of new Set(group.members)) {
      columns.at.push(at);
      columns.ticks.push(tick);
    }
    before = tick;
  }
  if (columns.at.length === 0) return { at: [0], ticks: [0] };
  return columns;
}
