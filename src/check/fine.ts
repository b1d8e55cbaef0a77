/** Second pass of the alignment: the exact moment of each written event, with the player's own tempo as guide.
 * In: events with rough times in playing order. Out: a time for each, and seconds a tick around it.
 * Method: dynamic programming over (event, frame) in a band around the rough times; a step costs what its length departs from the
 * local tempo (Raphael 1999, IEEE PAMI 21(4): tempo as a hidden guide), and little where the rough times already wait.
 * Memory: one band a event. Can't do: more than half a beat of error in the rough times. */
import { median } from "../base/numbers.js";
import type { EvidenceMap } from "../notes/played-note.js";
import { FLOOR_LOGIT, onsetLogitAt, pitchIdxOf } from "./evidence.js";

export const FINE_DEFAULTS = Object.freeze({
  bandSec: 0.45, // rough times of badly matching bars are off by up to a beat at 130 bpm
  missCost: 2.5,
  hitCap: 4,
  blurPerFrame: 0.6, // logits lost for each frame that a chord's notes are apart: strums spread 30 ms
  looseSec: 0.02, // steadiness of a good player, one standard deviation …
  looseShare: 0.08, // … plus this share of the step
  strayCap: 30, // most that a departure from the tempo can cost where the rough times keep time …
  pauseCap: 4, // … and where they wait
  pauseSec: 0.25, // rough steps longer than the tempo has them by more than this …
  pauseShare: 0.5, // … and by half are waits
  tempoRange: 1.45, // local tempo against the usual one: rubato and changes of tempo, but no pause
  tempoReachTicks: 96, // local tempo over about a bar on each side
});

/** @property startTick undefined when the tab has no rhythm */
export type FineItem = { midis: readonly number[]; sec: number; startTick?: number };

/** Seconds a tick around each item: the median slope over pairs of items at least a beat apart within reach; pairs that a pause or
 * unwritten music parts (slopes far from the usual one) are left out. Undefined where there are none. */
export function localPulse(
  items: readonly { sec: number; startTick?: number }[],
  reachTicks: number = FINE_DEFAULTS.tempoReachTicks,
): (number | undefined)[] {
  const pairs: { fromTick: number; toTick: number; slope: number }[] = [];
  for (let a = 0; a < items.length; a++)
    for (let b = a + 1; b < items.length; b++) {
      const [one, two] = [items[a], items[b]];
      if (one?.startTick === undefined || two?.startTick === undefined) continue;
      const ticks = two.startTick - one.startTick;
      if (ticks > 2 * reachTicks) break;
      if (ticks >= 24 && two.sec > one.sec)
        pairs.push({ fromTick: one.startTick, toTick: two.startTick, slope: (two.sec - one.sec) / ticks });
    }
  const usual = median(pairs.map((p) => p.slope));
  if (usual === undefined) return items.map(() => undefined);
  const sane = pairs.filter(
    (p) => p.slope > usual / FINE_DEFAULTS.tempoRange && p.slope < usual * FINE_DEFAULTS.tempoRange,
  );
  let first = 0;
  return items.map((item) => {
    const at = item.startTick;
    if (at === undefined) return undefined;
    while (first < sane.length && (sane[first]?.fromTick ?? 0) < at - reachTicks) first++;
    const slopes: number[] = [];
    for (let i = first; i < sane.length; i++) {
      const pair = sane[i];
      if (!pair || pair.fromTick > at + reachTicks) break;
      if (pair.toTick <= at + reachTicks) slopes.push(pair.slope);
    }
    return median(slopes) ?? usual;
  });
}

/** What an event gains by beginning at each frame of its band. */
function bandGains(map: EvidenceMap, midis: readonly number[], firstFrame: number, into: Float64Array): void {
  const { missCost, hitCap, blurPerFrame } = FINE_DEFAULTS;
  into.fill(0);
  for (const midi of midis) {
    const pitchIdx = pitchIdxOf(map, midi);
    if (pitchIdx === undefined) continue;
    for (let k = 0; k < into.length; k++) {
      let best = FLOOR_LOGIT;
      for (let d = -3; d <= 3; d++) {
        const logit = onsetLogitAt(map, pitchIdx, firstFrame + k + d) - blurPerFrame * Math.abs(d);
        if (logit > best) best = logit;
      }
      into[k] = (into[k] as number) + Math.min(hitCap, Math.max(-missCost, best));
    }
  }
}

/** Exact times of the events, in seconds, never falling. */
export function fineTimes(
  map: EvidenceMap,
  items: readonly FineItem[],
  options: { bandSec?: number } = {},
): number[] {
  if (items.length === 0) return [];
  const { looseSec, looseShare, strayCap, pauseCap, pauseSec, pauseShare } = FINE_DEFAULTS;
  const half = Math.max(2, Math.round((options.bandSec ?? FINE_DEFAULTS.bandSec) / map.frameSec));
  const width = 2 * half + 1;
  const pulse = localPulse(items);
  const firstFrames = items.map((item) => Math.round(item.sec / map.frameSec) - half);
  const back: Int16Array[] = [];
  let scores = new Float64Array(width);
  const gains = new Float64Array(width);
  items.forEach((item, i) => {
    bandGains(map, item.midis, firstFrames[i] as number, gains);
    const pointers = new Int16Array(width).fill(-1);
    const next = new Float64Array(width).fill(Number.NEGATIVE_INFINITY);
    const before = items[i - 1];
    if (!before) next.set(gains);
    else {
      const lead = (firstFrames[i] as number) - (firstFrames[i - 1] as number);
      const ticks =
        item.startTick !== undefined && before.startTick !== undefined
          ? item.startTick - before.startTick
          : undefined;
      const slope = pulse[i] ?? pulse[i - 1];
      const wanted = ticks !== undefined && slope !== undefined ? ticks * slope : item.sec - before.sec;
      const loose = looseSec + looseShare * wanted + (ticks === undefined ? 0.15 : 0);
      const waits = item.sec - before.sec - wanted > Math.max(pauseSec, pauseShare * wanted);
      const cap = waits ? pauseCap : strayCap;
      for (let k = 0; k < width; k++)
        for (let p = 0; p < width; p++) {
          const step = (lead + k - p) * map.frameSec;
          if (step < 0.02) break; // p only grows, the step only shrinks
          const stray = (step - wanted) / loose;
          const score = (scores[p] as number) - Math.min(cap, stray * stray * 0.5);
          if (score > (next[k] as number)) {
            next[k] = score;
            pointers[k] = p;
          }
        }
      for (let k = 0; k < width; k++) next[k] = (next[k] as number) + (gains[k] as number);
    }
    back.push(pointers);
    scores = next;
  });
  let k = 0;
  for (let c = 1; c < width; c++) if ((scores[c] as number) > (scores[k] as number)) k = c;
  const times = new Array<number>(items.length).fill(0);
  for (let i = items.length - 1; i >= 0; i--) {
    times[i] = Math.max(0, ((firstFrames[i] as number) + k) * map.frameSec);
    const pointer = (back[i] as Int16Array)[k] as number;
    if (i > 0 && pointer < 0) {
      // No step fits the band: keep the rough time before.
      k = half;
      continue;
    }
    k = pointer;
  }
  return times;
}
