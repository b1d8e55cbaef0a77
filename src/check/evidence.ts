/** Questions to the listener's evidence map: is there an onset of this pitch near this moment, does it sound between two moments.
 * In: EvidenceMap (quantised logits). Out: logits as numbers, times in seconds.
 * The check asks with the score in hand, so it looks at peaks over a window and not at single frames. */
import type { EvidenceMap } from "../notes/played-note.js";

/** As in notes/played-note.ts (types only may come from there); a test holds the two equal. */
export const STEPS_PER_LOGIT = 16;

/** What is said of a pitch that the listener does not cover, or of a place with no peak: as sure as "no onset" gets. */
export const FLOOR_LOGIT = -6;

/** Frames on each side that a peak must top: ±3 frames of 11.6 ms, the picking window of the listener. */
const PEAK_REACH_FRAMES = 3;

export type Peak = { logit: number; sec: number };

/** Column of a pitch in the map; undefined when the listener does not cover it. */
export function pitchIdxOf(map: EvidenceMap, midi: number): number | undefined {
  const pitchIdx = midi - map.lowestMidi;
  return pitchIdx >= 0 && pitchIdx < map.pitchCount && Number.isInteger(pitchIdx) ? pitchIdx : undefined;
}

/** Onset logit at a frame; FLOOR_LOGIT outside the take. */
export function onsetLogitAt(map: EvidenceMap, pitchIdx: number, frameIdx: number): number {
  if (frameIdx < 0 || frameIdx >= map.frameCount) return FLOOR_LOGIT;
  return (map.onset[frameIdx * map.pitchCount + pitchIdx] as number) / STEPS_PER_LOGIT;
}

/** The highest onset logit of a pitch between two times, with its time refined by a parabola through three frames.
 * @returns undefined when the pitch is outside the listener's range or the window outside the take */
export function peakBetween(
  map: EvidenceMap,
  midi: number,
  fromSec: number,
  toSec: number,
): Peak | undefined {
  const pitchIdx = pitchIdxOf(map, midi);
  if (pitchIdx === undefined) return undefined;
  const first = Math.max(0, Math.ceil(fromSec / map.frameSec));
  const last = Math.min(map.frameCount - 1, Math.floor(toSec / map.frameSec));
  let best = Number.NEGATIVE_INFINITY;
  let bestFrame = -1;
  for (let frameIdx = first; frameIdx <= last; frameIdx++) {
    const logit = onsetLogitAt(map, pitchIdx, frameIdx);
    if (logit > best) {
      best = logit;
      bestFrame = frameIdx;
    }
  }
  if (bestFrame < 0) return undefined;
  const before = onsetLogitAt(map, pitchIdx, bestFrame - 1);
  const after = onsetLogitAt(map, pitchIdx, bestFrame + 1);
  const bend = before - 2 * best + after;
  const shift = bend < 0 ? Math.max(-0.5, Math.min(0.5, (0.5 * (before - after)) / bend)) : 0;
  return { logit: best, sec: (bestFrame + shift) * map.frameSec };
}

/** Mean sounding logit of a pitch over a stretch; undefined outside range or take. */
export function soundingBetween(
  map: EvidenceMap,
  midi: number,
  fromSec: number,
  toSec: number,
): number | undefined {
  const pitchIdx = pitchIdxOf(map, midi);
  if (pitchIdx === undefined) return undefined;
  const first = Math.max(0, Math.round(fromSec / map.frameSec));
  const last = Math.min(map.frameCount - 1, Math.round(toSec / map.frameSec));
  if (last < first) return undefined;
  let sum = 0;
  for (let frameIdx = first; frameIdx <= last; frameIdx++)
    sum += map.sounding[frameIdx * map.pitchCount + pitchIdx] as number;
  return sum / STEPS_PER_LOGIT / (last - first + 1);
}

/** Onset peaks on a coarser clock: cell (k, p) holds the highest local maximum of pitch p within frames k·stride … +stride−1,
 * FLOOR_LOGIT where there is none. A peak lands in exactly one cell, so one pluck cannot be counted twice.
 * @returns shape (ceil(frames / stride), pitches), row-major, logits */
export function peakMap(map: EvidenceMap, stride: number): { rows: number; logits: Float32Array } {
  const rows = Math.ceil(map.frameCount / stride);
  const { pitchCount, frameCount, onset } = map;
  const logits = new Float32Array(rows * pitchCount).fill(FLOOR_LOGIT);
  const lowest = FLOOR_LOGIT * STEPS_PER_LOGIT;
  for (let frameIdx = 0; frameIdx < frameCount; frameIdx++) {
    const rowAt = Math.floor(frameIdx / stride) * pitchCount;
    for (let pitchIdx = 0; pitchIdx < pitchCount; pitchIdx++) {
      const step = onset[frameIdx * pitchCount + pitchIdx] as number;
      if (step <= lowest) continue;
      let isPeak = true;
      for (let k = 1; k <= PEAK_REACH_FRAMES && isPeak; k++) {
        const before = frameIdx - k >= 0 ? (onset[(frameIdx - k) * pitchCount + pitchIdx] as number) : -128;
        const after =
          frameIdx + k < frameCount ? (onset[(frameIdx + k) * pitchCount + pitchIdx] as number) : -128;
        isPeak = step > before && step >= after; // ties: the earliest frame is the peak
      }
      if (!isPeak) continue;
      const cell = rowAt + pitchIdx;
      const logit = step / STEPS_PER_LOGIT;
      if (logit > (logits[cell] as number)) logits[cell] = logit;
    }
  }
  return { rows, logits };
}
