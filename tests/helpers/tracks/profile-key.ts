import { pitchClassName } from "../../../src/theory/pitch.js";
import type { KeyProfiles } from "./key-profile-table.js";
import type { PlainKey } from "./key-score.js";

/** The key whose profile goes best with a chroma, by correlation over the twelve notes. @param chroma shape (12), any scale
 * Source: Krumhansl 1990, Cognitive Foundations of Musical Pitch, chapter 4: the key-finding algorithm. */
export function profileKey(chroma: readonly number[], profiles: KeyProfiles): PlainKey {
  let best: PlainKey = { tonic: "C", isMinor: false };
  let most = Number.NEGATIVE_INFINITY;
  for (const isMinor of [false, true])
    for (let tonicPc = 0; tonicPc < 12; tonicPc++) {
      const profile = isMinor ? profiles.minor : profiles.major;
      const found = correlation(
        chroma,
        chroma.map((_, pc) => profile[(pc - tonicPc + 12) % 12] ?? 0),
      );
      if (found <= most) continue;
      most = found;
      best = { tonic: pitchClassName(tonicPc), isMinor };
    }
  return best;
}

/** Pearson's correlation, −1…1; 0 where one of the two does not vary. */
function correlation(a: readonly number[], b: readonly number[]): number {
  const meanOf = (x: readonly number[]): number => x.reduce((sum, y) => sum + y, 0) / x.length;
  const [ma, mb] = [meanOf(a), meanOf(b)];
  let both = 0;
  let aa = 0;
  let bb = 0;
  a.forEach((x, k) => {
    const y = (b[k] ?? 0) - mb;
    both += (x - ma) * y;
    aa += (x - ma) ** 2;
    bb += y * y;
  });
  return aa * bb > 0 ? both / Math.sqrt(aa * bb) : 0;
}
