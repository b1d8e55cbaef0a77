/** Weights of the two judges. Row form: constant first, then one weight a feature in the order of THERE_FEATURES (judge.ts) and
 * UNWRITTEN_FEATURES (unwritten.ts). Origin: tests/bench/check-fit.bench.ts, `check-fit --takes=12`, 24 rendered takes of studies 700–711
 * on guitars that the listener never heard, 7380 written notes asked and 1616 unwritten onsets. Fit again when the listener changes. */
export const THERE_WEIGHTS: readonly number[] = Object.freeze([
  2.455, 1.847, 0.389, 0.424, 0.198, 0.133, -0.004, -0.089, 0.001,
]);
export const UNWRITTEN_WEIGHTS: readonly number[] = Object.freeze([
  -12.581, 2.714, 1.622, 1.268, 0.111, -1.653, -3.625, -1.14, -0.025, 1.078,
]);
