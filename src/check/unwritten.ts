/** What was clearly played and is not written: every onset that the listener heard and no written note accounts for.
 * In: Listening, Alignment, the written notes as asked. Out: one Unwritten a heard onset, with a probability that it was plucked.
 * Method: logistic regression as in judge.ts; what counts against: a partial of a note struck with it, a pitch that rings already,
 * a second onset of a note just counted. Stretches that the alignment ignores (false starts, before, after) are not looked at. */
import { clamp, roundTo } from "../base/numbers.js";
import type { Listening } from "../notes/played-note.js";
import type { Sheet } from "../sheet/sheet.js";
import type { Alignment } from "./align.js";
import { peakBetween, soundingBetween } from "./evidence.js";
import { type Asked, JUDGE_DEFAULTS, logistic, PARTIALS } from "./judge.js";
import { UNWRITTEN_WEIGHTS } from "./judge-table.js";
import { siblingBars, siblingLogit } from "./siblings.js";
import { lastNotAbove, secAtTick, tickAtSec, timelineOf } from "./timeline.js";

const UNWRITTEN_DEFAULTS = Object.freeze({
  leastLogit: -2, // quieter onsets are never clear enough to accuse
  matchSec: 0.09, // a heard onset this near a written note of its pitch is that note
  restrikeSec: 0.2,
  siblingsDeny: -2, // logits: the siblings have no onset of that pitch there
  mostForPartial: 0.8, // unsure, never an accusation
  gridSec: 0.07, // an onset this near a place of the sheet's own grid is at that place
});

/** @property barIdx bar in playing order where it falls @property tick within that bar @property played probability 0…1 */
export type Unwritten = {
  midi: number;
  sec: number;
  barIdx: number;
  tick: number;
  eventIdx: number;
  played: number;
  features: number[];
};

export const UNWRITTEN_FEATURES = [
  "onset",
  "after",
  "rise",
  "siblings",
  "hasSiblings",
  "partial",
  "ringing",
  "again",
  "offEvent",
] as const;

const gcd = (a: number, b: number): number => (b < 1 ? a : gcd(b, a % b));

/** Without rhythm a place in the bar is the column before. */
function lastTickBefore(events: Alignment["events"], barIdx: number, startTick: number): number {
  return events.findLast((e) => e.barIdx === barIdx && e.startTick <= startTick)?.tick ?? 0;
}

/** Ask the sheet about every heard onset. */
export function askHeard(
  sheet: Sheet,
  listening: Listening,
  alignment: Alignment,
  asked: readonly Asked[],
): Unwritten[] {
  const { events, score, ignored } = alignment;
  const map = listening.evidence;
  const line = timelineOf(events);
  const siblings = siblingBars(score, sheet);
  const timedIdxs = events.map((_, e) => e).filter((e) => events[e]?.sec !== undefined);
  const heard = [...listening.notes, ...listening.candidates].sort(
    (a, b) => a.onsetSec - b.onsetSec || a.midi - b.midi,
  );
  const onsetSecs = Float64Array.from(heard, (n) => n.onsetSec);
  const askedOf = new Map<number, Asked[]>();
  for (const a of asked) askedOf.set(a.midi, [...(askedOf.get(a.midi) ?? []), a]);
  const found: Unwritten[] = [];
  const gridTicks = score.hasRhythm
    ? Math.max(
        3,
        score.events.reduce((step, e) => gcd(step, e.tick), 24),
      )
    : 1;
  for (const note of heard) {
    const sec = note.onsetSec;
    if (ignored.some((s) => sec >= s.fromSec && sec < s.toSec)) continue;
    const peak = peakBetween(map, note.midi, sec - 0.025, sec + 0.025);
    if (!peak || peak.logit < UNWRITTEN_DEFAULTS.leastLogit) continue;
    const same = askedOf.get(note.midi) ?? [];
    if (same.some((a) => Math.abs(a.sec - sec) <= UNWRITTEN_DEFAULTS.matchSec)) continue;
    const exactTick = tickAtSec(line, sec);
    if (exactTick === undefined) continue;
    // On the grid of the written notes where it is near: a note just before a bar line belongs to the line.
    const gridTick = Math.round(exactTick / gridTicks) * gridTicks;
    const offGridSec = Math.abs((secAtTick(line, gridTick) ?? 0) - sec);
    const startTick = offGridSec < UNWRITTEN_DEFAULTS.gridSec ? gridTick : exactTick;
    let barIdx = 0;
    score.bars.forEach((bar, i) => {
      if (bar.startTick <= startTick) barIdx = i;
    });
    const bar = score.bars[barIdx];
    if (!bar) continue;
    const at = lastNotAbove(line.secs, sec);
    const near = [at, at + 1]
      .filter((i) => i >= 0 && i < line.secs.length)
      .sort((a, b) => Math.abs((line.secs[a] as number) - sec) - Math.abs((line.secs[b] as number) - sec))[0];
    const eventIdx = timedIdxs[near ?? 0] ?? 0;
    const offSec = Math.abs((line.secs[near ?? 0] ?? 0) - sec);
    const struckWith = offSec < JUDGE_DEFAULTS.reachSec ? events[eventIdx] : undefined;
    const ownBarIdx = struckWith?.barIdx ?? barIdx;
    const inBar = (struckWith?.startTick ?? startTick) - (score.bars[ownBarIdx]?.startTick ?? 0);
    const tick =
      struckWith?.tick ?? (score.hasRhythm ? roundTo(inBar, 3) : lastTickBefore(events, barIdx, startTick));
    const soundAfter = soundingBetween(map, note.midi, sec + 0.03, sec + 0.16) ?? 0;
    const soundBefore = soundingBetween(map, note.midi, sec - 0.14, sec - 0.04) ?? -6;
    // What begins with it, a moment before or after: the note whose partial it may be.
    let partial = 0;
    for (let i = lastNotAbove(onsetSecs, sec - 0.05) + 1; i < heard.length; i++) {
      const other = heard[i];
      if (!other || other.onsetSec > sec + 0.05) break;
      if (PARTIALS.includes(note.midi - other.midi) && other.confidence >= note.confidence * 0.5) partial = 1;
    }
    if (
      asked.some(
        (a) => Math.abs(a.sec - sec) < 0.05 && a.there > 0.5 && PARTIALS.includes(note.midi - a.midi),
      )
    )
      partial = 1;
    const again = same.some((a) => sec - a.sec > 0 && sec - a.sec < UNWRITTEN_DEFAULTS.restrikeSec) ? 1 : 0;
    const sibling = siblingLogit(score, siblings[ownBarIdx] ?? [], line, map, inBar, note.midi);
    const features = [
      clamp(peak.logit, -6, 5),
      clamp(soundAfter, -5, 5),
      clamp(soundAfter - clamp(soundBefore, -5, 5), -5, 5),
      sibling ?? 0,
      sibling === undefined ? 0 : 1,
      partial,
      soundBefore > 0 ? 1 : 0,
      again,
      clamp(offSec / 0.06, 0, 2),
    ];
    found.push({
      midi: note.midi,
      sec: peak.sec,
      barIdx: ownBarIdx,
      tick,
      eventIdx,
      // A partial of a note struck with it cannot be told from a doubled octave, unless the other bars like this one lack it.
      played:
        partial === 1 && (sibling === undefined || sibling > UNWRITTEN_DEFAULTS.siblingsDeny)
          ? Math.min(UNWRITTEN_DEFAULTS.mostForPartial, logistic(UNWRITTEN_WEIGHTS, features))
          : logistic(UNWRITTEN_WEIGHTS, features),
      features,
    });
  }
  return found;
}
