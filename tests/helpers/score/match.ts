/** Largest matching of two lists by augmenting paths; near partners are tried first, so equal matchings prefer small distances.
 * Source: Hopcroft & Karp 1973 (the size), as mir_eval.util._bipartite_match.
 * @param partners partners[est] = indices of the reference items that may match it, best first
 * @returns pairs [ref, est], by ref */
export function largestMatching(
  partners: readonly (readonly number[])[],
  refCount: number,
): [number, number][] {
  const estOf = new Int32Array(refCount).fill(-1);
  const seen = new Int32Array(refCount).fill(-1);
  const augment = (est: number, round: number): boolean => {
    for (const ref of partners[est] ?? []) {
      if (seen[ref] === round) continue;
      seen[ref] = round;
      const holder = estOf[ref] as number;
      if (holder < 0 || augment(holder, round)) {
        estOf[ref] = est;
        return true;
      }
    }
    return false;
  };
  partners.forEach((_, est) => {
    augment(est, est);
  });
  return [...estOf].flatMap((est, ref) => (est < 0 ? [] : [[ref, est] as [number, number]]));
}

/** Precision, recall and their harmonic mean, 0…1; F is 0 when both are. */
export type Prf = { precision: number; recall: number; f1: number; matched: number };

export function prf(matched: number, refCount: number, estCount: number): Prf {
  const precision = estCount === 0 ? 0 : matched / estCount;
  const recall = refCount === 0 ? 0 : matched / refCount;
  const f1 = precision + recall === 0 ? 0 : (2 * precision * recall) / (precision + recall);
  return { precision, recall, f1, matched };
}

/** Rounds to 4 decimals, halves to even, as numpy.around does. */
export function roundTo4(x: number): number {
  const scaled = x * 10000;
  const low = Math.floor(scaled);
  const rest = scaled - low;
  const up = rest > 0.5 || (rest === 0.5 && low % 2 !== 0);
  return (up ? low + 1 : low) / 10000;
}
