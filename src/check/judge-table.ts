/** Weights of the two judges. Row form: constant first, then one weight a feature in the order of THERE_FEATURES and
 * UNWRITTEN_FEATURES. Origin: set by hand on simulated evidence. */
export const THERE_WEIGHTS: readonly number[] = Object.freeze([
  2.2, 0.9, 0.15, 0.15, 0.25, 0, 0.6, 0.2, -0.2,
]);
export const UNWRITTEN_WEIGHTS: readonly number[] = Object.freeze([
  -2.2, 0.9, 0.15, 0.15, 0.1, 0, -2.2, -1.0, -1.5, 0,
]);
