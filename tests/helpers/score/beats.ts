import { largestMatching, prf } from "./match.js";

/** Beat F-measure at ±70 ms. Source: mir_eval.beat.f_measure; Dixon 2007. @returns 0…1 */
export function beatFMeasure(ref: readonly number[], est: readonly number[], windowSec = 0.07): number {
  const partners = est.map((e) =>
    ref
      .map((r, idx) => ({ idx, r }))
      .filter(({ r }) => r >= e - windowSec && r <= e + windowSec) // as numpy.searchsorted compares
      .sort((a, b) => Math.abs(a.r - e) - Math.abs(b.r - e) || a.idx - b.idx)
      .map(({ idx }) => idx),
  );
  return prf(largestMatching(partners, ref.length).length, ref.length, est.length).f1;
}
