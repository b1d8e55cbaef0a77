// What breaks the figure speaks for the beat: a figure breaks off on a beat and is taken up again on one, and a beat is halved, not
// divided in five.
// In: steps and events on them. Out: features by name (tempo-table.ts weighs them). Source: common practice, no published source.
import type { HitEvent } from "./events.js";
import type { Pulse } from "./pulse.js";
import type { Step } from "./tempo-features.js";
import type { TempoFeature } from "./tempo-table.js";

const BREAK_DEFAULTS = Object.freeze({
  chord: 3, // notes that are a chord
  usualShare: 0.04, // gaps that come more often than this are the figure's own
  steps: 3, // without a chord, a gap so long is a break: one note missed leaves two
  halfFrom: 0.34, // off a step by so much of one, an event stands between two
  most: 4, // half as many tell as much as more
});

type Features = Partial<Record<TempoFeature, number>>;

/** Steps at which the figure breaks off: before gaps such as it has no other, after a full chord or long ones. */
export function breaksOf(steps: readonly Step[]): number[] {
  const struck = steps.flatMap((s, k) => (s.hits > 0 ? [k] : []));
  const gaps = struck.slice(1).map((k, i) => k - (struck[i] as number));
  const counts = new Map<number, number>();
  for (const g of gaps) counts.set(g, (counts.get(g) ?? 0) + 1);
  let usual = 1;
  for (const [gap, count] of counts)
    if (count > BREAK_DEFAULTS.usualShare * gaps.length) usual = Math.max(usual, gap);
  return gaps.flatMap((gap, i) => {
    const atStep = struck[i] as number;
    const isChord = (steps[atStep] as Step).hits >= BREAK_DEFAULTS.chord;
    if (gap <= usual || (!isChord && gap < usual + BREAK_DEFAULTS.steps - 1)) return [];
    return [atStep];
  });
}

/** Steps after which an event stands half a step later; not where a string is struck twice. */
export function halvesOf(events: readonly HitEvent[], pulse: Pulse): number[] {
  return events.flatMap((e, k) => {
    const off = pulse.offStep[k] as number;
    const before = events[k - 1];
    if (Math.abs(off) < BREAK_DEFAULTS.halfFrom || before === undefined) return [];
    if (e.lowMidi === before.lowMidi) return [];
    const step = pulse.stepIdx[k] as number;
    return [off < 0 ? step - 1 : step];
  });
}

/** Whether the figure breaks off on beats (or groups of three eighths), and whether what stands between two steps halves the beat: −1…1. */
export function breakFeatures(
  breaks: readonly number[],
  halves: readonly number[],
  { stepsPerBeat, unit }: { stepsPerBeat: number; unit: number },
): Features {
  const group = unit >= 8 ? 3 * stepsPerBeat : stepsPerBeat;
  const mayHalve = stepsPerBeat <= (unit >= 8 ? 1 : 2); // into eighths or sixteenths
  return {
    breaksOnGroup: balance(breaks, (k) => k % group === 0),
    halvesBeat: balance(halves, (k) => mayHalve || 2 * (k % stepsPerBeat) + 1 === stepsPerBeat),
  };
}

/** 1 when all are so, −1 when none is, 0 when there are none; few tell less. */
function balance(list: readonly number[], is: (step: number) => boolean): number {
  if (list.length === 0) return 0;
  const yes = list.filter(is).length / list.length;
  return (2 * yes - 1) * Math.min(1, 0.5 + list.length / BREAK_DEFAULTS.most);
}
