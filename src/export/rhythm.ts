/** Written note values: a stretch of ticks becomes notes that a reader counts at a glance.
 * In: a stretch of a bar in ticks (24 a beat), the meter, the beats that are divided in three. Out: one or more values, to be tied.
 * Method: a beat with a boundary off the thirty-second grid is a triplet beat and is filled in thirds; elsewhere the longest
 * plain or dotted value is taken that does not hide a beat that the meter wants seen.
 * Source: the usual rules of rhythmic notation (common practice; the rules on syncopation and dotted groups as taught, no published source).
 * Cannot: quintuplets and tuplets wider than a beat; they come out as tied thirds. */
import type { Meter } from "../grid/grid.js";

/** MusicXML note-type-value names that are used here, longest first. */
export const NOTE_TYPES = ["whole", "half", "quarter", "eighth", "16th", "32nd", "64th", "128th"] as const;
type NoteType = (typeof NOTE_TYPES)[number];

/** A written value: ticks from the bar's start, its type, dots, and whether it is one of three in the time of two. */
export type WrittenValue = {
  startTick: number;
  lengthTicks: number;
  type: NoteType;
  dots: number;
  triplet: boolean;
};

const BEAT_TICKS = 24;

/** Ticks of a quarter note: the beat is 1/unit, so 24 ticks/beat · unit/4 beats/quarter. */
export const quarterTicks = (meter: Meter): number => (BEAT_TICKS * meter.unit) / 4;

/** Ticks that are beamed and counted together: three units in compound meters (6/8, 9/8, 12/8), otherwise one beat. */
export const groupTicks = (meter: Meter): number =>
  meter.unit >= 8 && meter.beats > 3 && meter.beats % 3 === 0 ? 3 * BEAT_TICKS : BEAT_TICKS;

/** Beats (numbered from 0) that have to be divided in three because a boundary lies off the grid of an eighth of a beat. */
export function tripletBeats(boundaryTicks: Iterable<number>): Set<number> {
  const beats = new Set<number>();
  for (const tick of boundaryTicks) if (tick % 3 !== 0) beats.add(Math.floor(tick / BEAT_TICKS));
  return beats;
}

/** Values that fill [startTick, endTick). Rests never cross a beat group unless they fill whole ones.
 * @param triplets beats from `tripletBeats` of the same voice and bar */
export function spellSpan(
  startTick: number,
  endTick: number,
  meter: Meter,
  triplets: ReadonlySet<number>,
  isRest = false,
): WrittenValue[] {
  const values: WrittenValue[] = [];
  let tick = startTick;
  while (tick < endTick) {
    const beat = Math.floor(tick / BEAT_TICKS);
    if (triplets.has(beat)) {
      const value = thirdValue(tick, Math.min(endTick, (beat + 1) * BEAT_TICKS) - tick, meter);
      values.push(value);
      tick += value.lengthTicks;
      continue;
    }
    let limitTick = endTick;
    for (let b = beat + 1; b * BEAT_TICKS < endTick; b++)
      if (triplets.has(b)) {
        limitTick = b * BEAT_TICKS;
        break;
      }
    const value = plainValue(tick, limitTick - tick, meter, isRest);
    values.push(value);
    tick += value.lengthTicks;
  }
  return values;
}

/** Longest plain or dotted value that may start at `tick`. */
function plainValue(tick: number, maxTicks: number, meter: Meter, isRest: boolean): WrittenValue {
  const quarter = quarterTicks(meter);
  for (const [idx, type] of NOTE_TYPES.entries()) {
    const plain = (quarter * 4) / 2 ** idx;
    for (const dots of [1, 0]) {
      const lengthTicks = dots === 1 ? plain * 1.5 : plain;
      if (!Number.isInteger(lengthTicks) || lengthTicks > maxTicks) continue;
      if (!mayStand(tick, lengthTicks, meter, isRest, dots)) continue;
      return { startTick: tick, lengthTicks, type, dots, triplet: false };
    }
  }
  // Only a boundary off the grid gets here, and such beats are triplet beats: the smallest value keeps the loop finite.
  return { startTick: tick, lengthTicks: maxTicks, type: "128th", dots: 0, triplet: false };
}

function mayStand(tick: number, lengthTicks: number, meter: Meter, isRest: boolean, dots: number): boolean {
  const group = groupTicks(meter);
  const within = tick % group;
  const isCompound = group > BEAT_TICKS;
  if (lengthTicks <= group - within) return !(isRest && dots === 1 && !isCompound);
  if (isRest && dots === 1) return isCompound && within === 0 && lengthTicks % group === 0;
  if (isCompound) return within === 0 && lengthTicks % group === 0;
  const halfTick = meter.beats === 4 ? 2 * BEAT_TICKS : Number.POSITIVE_INFINITY;
  const crossesHalf = tick < halfTick && tick + lengthTicks > halfTick && tick !== 0;
  if (within === 0)
    return isRest
      ? tick % lengthTicks === 0
      : !(crossesHalf && tick + lengthTicks !== halfTick + BEAT_TICKS && lengthTicks > 2 * BEAT_TICKS);
  // A syncopated beat from one half-beat to the next is read at a glance; across the half of a 4-beat bar it is not.
  return !isRest && within === BEAT_TICKS / 2 && lengthTicks === BEAT_TICKS && !crossesHalf;
}

/** Longest value of a beat divided in three: three of a type in the time of two. */
function thirdValue(tick: number, maxTicks: number, meter: Meter): WrittenValue {
  const beatIdx = NOTE_TYPES.indexOf("quarter") + Math.log2(meter.unit / 4);
  for (const [lengthTicks, depth, dots] of THIRDS) {
    const type = NOTE_TYPES[beatIdx + depth];
    if (lengthTicks > maxTicks || type === undefined) continue;
    return { startTick: tick, lengthTicks, type, dots, triplet: true };
  }
  return { startTick: tick, lengthTicks: maxTicks, type: "128th", dots: 0, triplet: true };
}

/** Ticks of a third-value, halvings below the beat's own note, dots: 16 of 24 ticks is a beat note as one of three in the time of two. */
const THIRDS: readonly (readonly [number, number, number])[] = [
  [16, 0, 0],
  [12, 1, 1],
  [8, 1, 0],
  [6, 2, 1],
  [4, 2, 0],
  [3, 3, 1],
  [2, 3, 0],
  [1, 4, 0],
];
