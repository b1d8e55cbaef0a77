/** Beams: which neighbouring short notes are joined, level by level.
 * In: the written values of one voice of a bar, rests marked. Out: MusicXML beam words for each value. */
import type { Meter } from "../grid/grid.js";
import { groupTicks, NOTE_TYPES, type WrittenValue } from "./rhythm.js";

export type BeamWord = "begin" | "continue" | "end" | "forward hook" | "backward hook";
/** A value to be beamed; rests break a beam. */
export type BeamItem = { value: WrittenValue; isRest: boolean };

const BEAT_TICKS = 24;
const flagsOf = (value: WrittenValue): number =>
  Math.max(0, NOTE_TYPES.indexOf(value.type) - NOTE_TYPES.indexOf("quarter"));

/** Beam words, one list an item, level 1 first; [] for what stands alone. */
export function beamWords(items: readonly BeamItem[], meter: Meter): BeamWord[][] {
  const words: BeamWord[][] = items.map(() => []);
  const window = windowOf(items, meter);
  let run: number[] = [];
  const close = (): void => {
    if (run.length > 1) beamRun(run, items, words);
    run = [];
  };
  for (const [idx, item] of items.entries()) {
    const short = !item.isRest && flagsOf(item.value) > 0;
    const first = run[0];
    if (first !== undefined) {
      const firstItem = items[first];
      if (!short || !firstItem || window(firstItem.value.startTick) !== window(item.value.startTick)) close();
    }
    if (short) run.push(idx);
  }
  close();
  return words;
}

/** Which beam window a tick falls in: a beat or compound group; plain eighths of a 4-beat bar go by the half-bar,
 * eighth-unit meters that are not compound by twos. */
function windowOf(items: readonly BeamItem[], meter: Meter): (tick: number) => number {
  const group = groupTicks(meter);
  if (group > BEAT_TICKS) return (tick) => Math.floor(tick / group);
  if (meter.unit >= 8) return (tick) => Math.floor(tick / (2 * BEAT_TICKS));
  if (meter.beats % 2 !== 0 || meter.unit !== 4) return (tick) => Math.floor(tick / BEAT_TICKS);
  const half = 2 * BEAT_TICKS;
  const uneven = new Set<number>();
  for (const { value, isRest } of items)
    if (flagsOf(value) > 1 || value.triplet || (isRest && value.lengthTicks < BEAT_TICKS))
      uneven.add(Math.floor(value.startTick / half));
  return (tick) => {
    const halfIdx = Math.floor(tick / half);
    return uneven.has(halfIdx) ? 1000 + Math.floor(tick / BEAT_TICKS) : halfIdx;
  };
}

function beamRun(run: readonly number[], items: readonly BeamItem[], words: BeamWord[][]): void {
  const flags = run.map((idx) => {
    const item = items[idx];
    return item ? flagsOf(item.value) : 0;
  });
  const deepest = Math.max(...flags);
  for (let level = 1; level <= deepest; level++) {
    for (const [k, idx] of run.entries()) {
      if ((flags[k] ?? 0) < level) continue;
      const before = (flags[k - 1] ?? 0) >= level;
      const after = (flags[k + 1] ?? 0) >= level;
      const word: BeamWord = before
        ? after
          ? "continue"
          : "end"
        : after
          ? "begin"
          : k === 0
            ? "forward hook"
            : "backward hook";
      words[idx]?.push(word);
    }
  }
}
