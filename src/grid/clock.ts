/** Conversions between seconds and beats, along the beats of a grid; before the first and past the last beat the nearest pace holds. */
import { clamp } from "../base/numbers.js";

/** A beat this much longer than the one before holds a pause: its music keeps the pace of the beat before. */
const PAUSE_FACTOR = 1.7;

/** Index of the last beat at or before `sec`, 0…n − 2. */
export function beatIdxAt(beatSec: readonly number[], sec: number): number {
  let low = 0;
  let high = beatSec.length - 2;
  while (low < high) {
    const mid = (low + high + 1) >> 1;
    if ((beatSec[mid] as number) <= sec) low = mid;
    else high = mid - 1;
  }
  return low;
}

/** Length of a beat as its music plays it, seconds: without a pause that prolongs it. */
export function beatLenSec(beatSec: readonly number[], beatIdx: number): number {
  const last = beatSec.length - 2;
  const k = clamp(beatIdx, 0, Math.max(0, last));
  const length = (beatSec[k + 1] ?? 1) - (beatSec[k] ?? 0);
  if (k === 0) return length;
  const before = (beatSec[k] as number) - (beatSec[k - 1] as number);
  return length > PAUSE_FACTOR * before ? before : length;
}

/** Position in beats from the first beat (negative before it), swing still in it. */
export function rawPosition(beatSec: readonly number[], sec: number): number {
  const k = beatIdxAt(beatSec, sec);
  const start = beatSec[k] as number;
  const share = (sec - start) / beatLenSec(beatSec, k);
  if (sec < start || k >= beatSec.length - 2) return k + share;
  if (share < 1) return k + share;
  // Within a pause: what comes shortly before the next beat belongs to it.
  const back = (sec - (beatSec[k + 1] as number)) / beatLenSec(beatSec, k);
  return back > -0.25 ? k + 1 + Math.max(back, -0.25) : k + 0.999;
}

/** Takes swing out of a position: a beat's half stands at ratio/(1 + ratio) of it. */
export function unswing(position: number, swingRatio: number): number {
  const beat = Math.floor(position);
  const share = position - beat;
  const half = swingRatio / (1 + swingRatio);
  return beat + (share < half ? share / (2 * half) : 0.5 + (share - half) / (2 * (1 - half)));
}

/** Puts swing in: the inverse of `unswing`. */
export function swung(position: number, swingRatio: number): number {
  const beat = Math.floor(position);
  const share = position - beat;
  const half = swingRatio / (1 + swingRatio);
  return beat + (share < 0.5 ? 2 * share * half : half + (2 * share - 1) * (1 - half));
}
