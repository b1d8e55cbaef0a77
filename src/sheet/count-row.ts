/** The count: which places of a beat have a column, and how they are called.
 * A beat of d columns holds the places 0, 24/d, 2·24/d … of its 24 ticks; reading needs only the number of signs between two beat numbers.
 * Signs: "1 + 2 +" halves, "1 e + a" quarters, "1 t t" thirds (common practice of counting aloud, no published source), "." for finer places. */
import { BEAT_TICKS } from "./bar-time.js";

/** Columns a beat may have. */
const DIVISIONS = [1, 2, 3, 4, 6, 8, 12, 24] as const;

/** Smallest number of columns that gives every tick of a beat its own. @param ticks within the beat, 0…23 */
function divisionOf(ticks: Iterable<number>): number {
  const list = [...ticks];
  return DIVISIONS.find((d) => list.every((tick) => tick % (BEAT_TICKS / d) === 0)) ?? BEAT_TICKS;
}

/** The sign of a place within a beat. @param within ticks, 1…23; the beat itself is its number */
export function countSign(within: number): string {
  if (within === 12) return "+";
  if (within === 6) return "e";
  if (within === 18) return "a";
  return within === 8 || within === 16 ? "t" : ".";
}

/** Divisions of the beats of a bar, made alike where that costs little, so that a bar of eighths is spaced evenly.
 * @param ticksByBeat ticks within each beat that must have a column @param unit lower number of the meter */
export function divisionsOfBar(ticksByBeat: readonly ReadonlySet<number>[], unit: number): number[] {
  const divisions = ticksByBeat.map((ticks) => divisionOf(ticks));
  const widest = Math.max(unit <= 4 ? 2 : 1, ...divisions);
  const isBinary = widest <= 4 && divisions.every((d) => d === 1 || d === 2 || d === 4);
  const isTernary = divisions.every((d) => d === 1 || d === 3);
  if (isBinary && widest !== 3) return divisions.map(() => widest);
  if (isTernary) return divisions.map(() => 3);
  return divisions;
}

/** Ticks of the columns of a count, from the signs between two bar lines; undefined where they do not make a count.
 * The number of signs from one beat number to the next says how the beat is divided.
 * @param signs in order; numbers are beats
 * @param offset tick where the bar begins (0, or later in a pick-up), counted as in a full bar */
export function ticksOfCount(signs: readonly string[], offset: number): number[] | undefined {
  const groups: { beat: number | undefined; size: number }[] = [];
  for (const sign of signs) {
    if (/^\d{1,2}$/.test(sign)) groups.push({ beat: Number(sign), size: 1 });
    else {
      const group = groups.at(-1);
      if (group) group.size++;
      else groups.push({ beat: undefined, size: 1 });
    }
  }
  const ticks: number[] = [];
  let expected = Math.ceil(offset / BEAT_TICKS) + 1;
  for (const { beat, size } of groups) {
    const isPart = beat === undefined;
    const start = isPart ? offset : (expected - 1) * BEAT_TICKS;
    const length = isPart ? (BEAT_TICKS - (offset % BEAT_TICKS)) % BEAT_TICKS : BEAT_TICKS;
    if (!isPart && beat !== expected) return undefined;
    const step = length / size;
    if (step === 0 || !Number.isInteger(step)) return undefined;
    for (let k = 0; k < size; k++) ticks.push(start + k * step);
    if (!isPart) expected++;
  }
  return ticks;
}
