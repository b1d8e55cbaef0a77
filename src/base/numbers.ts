/** `x` held within `low`…`high`. */
export const clamp = (x: number, low: number, high: number): number => Math.min(high, Math.max(low, x));

/** `x` rounded to `digits` decimals; −0 becomes 0. */
export function roundTo(x: number, digits: number): number {
  const scale = 10 ** digits;
  return Math.round(x * scale) / scale + 0;
}

/** Remainder that is never negative: `mod(-1, 12)` is 11. */
export const mod = (x: number, n: number): number => ((x % n) + n) % n;

/** Middle value of a list (mean of the two middle ones); undefined for an empty list. */
export function median(xs: ArrayLike<number>): number | undefined {
  if (xs.length === 0) return undefined;
  const sorted = Float64Array.from(xs).sort();
  const midIdx = sorted.length >> 1;
  const upper = sorted[midIdx] as number;
  return sorted.length % 2 === 1 ? upper : ((sorted[midIdx - 1] as number) + upper) / 2;
}

/** 1 / (1 + e^−x): a logit made a probability. */
export const sigmoid = (x: number): number => 1 / (1 + Math.exp(-x));

/** The logit of a probability, held away from 0 and 1 by 1e-6. */
export function logit(p: number): number {
  const q = clamp(p, 1e-6, 1 - 1e-6);
  return Math.log(q / (1 - q));
}
