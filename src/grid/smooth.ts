/** An event on its step: `beat` counts from the first of the beats, fractions allowed. */
export type Pinned = { sec: number; beat: number; weight: number };

const SMOOTH_DEFAULTS = Object.freeze({
  eventSec: 0.012, // a player's own jitter about the beat
  bendSec: 0.006, // usual change of the beat length from beat to beat; more is allowed, at a falling price
  rounds: 3,
});

/** A smooth tempo curve through events whose steps are known: penalised least squares over the beat times, with the
 * second difference as penalty, reweighted so that a step of tempo or a pause bends it only where it happens.
 * Source: Whittaker 1923 (graduation by second differences); Holland & Welsch 1977 (Cauchy reweighting).
 * @param beatSec first guess, shape (n ≥ 2) @returns shape (n), strictly rising */
export function smoothBeats(beatSec: readonly number[], pinned: readonly Pinned[]): number[] {
  const n = beatSec.length;
  let current = Float64Array.from(beatSec);
  if (n < 3) return [...beatSec];
  for (let round = 0; round < SMOOTH_DEFAULTS.rounds; round++) {
    // Normal equations, bandwidth 2: main[k], one[k] = (k, k+1), two[k] = (k, k+2).
    const main = new Float64Array(n).fill(1e-6);
    const one = new Float64Array(n);
    const two = new Float64Array(n);
    const right = Float64Array.from(current, (x) => x * 1e-6);
    for (const p of pinned) {
      const k = Math.min(n - 2, Math.max(0, Math.floor(p.beat)));
      const f = p.beat - k;
      const at = (x: Float64Array, idx: number): number => x[idx] as number;
      const miss = (p.sec - (1 - f) * at(current, k) - f * at(current, k + 1)) / SMOOTH_DEFAULTS.eventSec;
      const w = p.weight / (1 + (miss * miss) / 9) / SMOOTH_DEFAULTS.eventSec ** 2;
      main[k] = at(main, k) + w * (1 - f) * (1 - f);
      main[k + 1] = at(main, k + 1) + w * f * f;
      one[k] = at(one, k) + w * f * (1 - f);
      right[k] = at(right, k) + w * (1 - f) * p.sec;
      right[k + 1] = at(right, k + 1) + w * f * p.sec;
    }
    for (let k = 1; k < n - 1; k++) {
      const at = (x: Float64Array, idx: number): number => x[idx] as number;
      const bend = (at(current, k + 1) - 2 * at(current, k) + at(current, k - 1)) / SMOOTH_DEFAULTS.bendSec;
      const w = 1 / (1 + (bend * bend) / 9) / SMOOTH_DEFAULTS.bendSec ** 2;
      main[k - 1] = at(main, k - 1) + w;
      main[k] = at(main, k) + 4 * w;
      main[k + 1] = at(main, k + 1) + w;
      one[k - 1] = at(one, k - 1) - 2 * w;
      one[k] = at(one, k) - 2 * w;
      two[k - 1] = at(two, k - 1) + w;
    }
    current = solveBanded(main, one, two, right);
  }
  const out = Array.from(current);
  for (let k = 1; k < n; k++) {
    const least = (out[k - 1] as number) + 0.02;
    if ((out[k] as number) < least) out[k] = least;
  }
  return out;
}

/** Solves a symmetric positive definite system of bandwidth 2 by L·D·Lᵀ. */
function solveBanded(
  main: Float64Array,
  one: Float64Array,
  two: Float64Array,
  right: Float64Array,
): Float64Array<ArrayBuffer> {
  const n = main.length;
  const d = new Float64Array(n);
  const l1 = new Float64Array(n);
  const l2 = new Float64Array(n);
  const x = new Float64Array(n);
  const at = (list: Float64Array, idx: number): number => (idx < 0 || idx >= n ? 0 : (list[idx] as number));
  for (let k = 0; k < n; k++) {
    d[k] = at(main, k) - at(l1, k - 1) ** 2 * at(d, k - 1) - at(l2, k - 2) ** 2 * at(d, k - 2);
    l1[k] = (at(one, k) - at(l1, k - 1) * at(l2, k - 1) * at(d, k - 1)) / at(d, k);
    l2[k] = at(two, k) / at(d, k);
    x[k] = at(right, k) - at(l1, k - 1) * at(x, k - 1) - at(l2, k - 2) * at(x, k - 2);
  }
  for (let k = n - 1; k >= 0; k--)
    x[k] = at(x, k) / at(d, k) - at(l1, k) * at(x, k + 1) - at(l2, k) * at(x, k + 2);
  return x;
}
