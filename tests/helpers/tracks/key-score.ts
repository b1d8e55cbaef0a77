import type { ModeName } from "../../../src/harmony/harmony.js";
import { pitchClassOf } from "../takes/grips.js";
import { MODE_STEPS } from "../takes/modes.js";

export type PlainKey = { tonic: string; isMinor: boolean };

/** Plain major or minor of a mode, by its third. */
export const plainKey = (tonic: string, mode: ModeName): PlainKey => ({
  tonic,
  isMinor: MODE_STEPS[mode].includes(3),
});

/** MIREX weighted key score: 1 right, 0.5 a fifth above, 0.3 relative, 0.2 parallel, else 0.
 * Source: MIREX 2005 Audio Key Detection, as mir_eval.key.weighted_score counts it. */
export function mirexScore(truth: PlainKey, est: PlainKey): number {
  const up = (pitchClassOf(est.tonic) - pitchClassOf(truth.tonic) + 12) % 12;
  if (up === 0) return est.isMinor === truth.isMinor ? 1 : 0.2;
  if (est.isMinor === truth.isMinor) return up === 7 ? 0.5 : 0;
  return up === (truth.isMinor ? 3 : 9) ? 0.3 : 0;
}

/** Do two keys have the same notes? */
export function sameNotes(
  a: { tonic: string; mode: ModeName },
  b: { tonic: string; mode: ModeName },
): boolean {
  const notes = (k: { tonic: string; mode: ModeName }): string =>
    MODE_STEPS[k.mode]
      .map((s) => (pitchClassOf(k.tonic) + s) % 12)
      .sort((x, y) => x - y)
      .join(" ");
  return notes(a) === notes(b);
}
