/** Which bars are the same music, and what the others say of a pitch at a place in one of them.
 * In: the sheet's own groups where it has them, else bars alike in notes. Out: siblings a bar, their evidence at a tick.
 * A note masked in one bar is often clear in the next; a note that no sibling plays is likelier a slip. */
import { mod } from "../base/numbers.js";
import type { EvidenceMap } from "../notes/played-note.js";
import type { Sheet } from "../sheet/sheet.js";
import { peakBetween } from "./evidence.js";
import { secAtTick, type Timeline } from "./timeline.js";
import type { PlayedBar, Score } from "./written.js";

const ALIKE = Object.freeze({ leastShare: 0.6, reachSec: 0.05, most: 8 });

/** For each bar in playing order, the indices of up to eight others that are the same music, nearest first. */
export function siblingBars(score: Score, sheet: Sheet): number[][] {
  const contents = score.bars.map((bar) => {
    const content = new Set<number>();
    for (let e = bar.firstEvent; e < bar.endEvent; e++)
      for (const midi of score.events[e]?.midis ?? [])
        content.add((score.events[e]?.tick ?? 0) * 128 + mod(midi, 128));
    return content;
  });
  const groupOf = (bar: PlayedBar): number | undefined => sheet.groupOfBar[bar.bar - 1];
  return score.bars.map((bar, i) => {
    const own = contents[i] as Set<number>;
    if (own.size === 0) return [];
    const alike = score.bars
      .map((other, j) => {
        const theirs = contents[j] as Set<number>;
        let common = 0;
        for (const key of own) if (theirs.has(key)) common++;
        const share = common / Math.max(own.size, theirs.size, 1);
        const grouped = groupOf(bar) !== undefined && groupOf(bar) === groupOf(other);
        return { j, alike: j !== i && theirs.size > 0 && (grouped || share >= ALIKE.leastShare) };
      })
      .filter((x) => x.alike)
      .sort((a, b) => Math.abs(a.j - i) - Math.abs(b.j - i) || a.j - b.j);
    return alike.slice(0, ALIKE.most).map((x) => x.j);
  });
}

/** Mean of the siblings' onset peaks of a pitch at a tick of the bar, in logits held to ±`cap`; undefined without siblings. */
export function siblingLogit(
  score: Score,
  siblings: readonly number[],
  line: Timeline,
  map: EvidenceMap,
  tick: number,
  midi: number,
  cap = 4,
): number | undefined {
  let sum = 0;
  let count = 0;
  for (const barIdx of siblings) {
    const bar = score.bars[barIdx];
    const sec = bar && secAtTick(line, bar.startTick + tick);
    if (sec === undefined) continue;
    const peak = peakBetween(map, midi, sec - ALIKE.reachSec, sec + ALIKE.reachSec);
    if (!peak) continue;
    sum += Math.max(-cap, Math.min(cap, peak.logit));
    count++;
  }
  return count === 0 ? undefined : sum / count;
}
