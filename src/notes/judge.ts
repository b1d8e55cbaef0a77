/** How sure an onset is: its peak in the evidence, and what stands around it.
 *
 * In: the evidence map, a peak's frame and pitch, its loudness. Out: a calibrated probability that the note was played. Method: logistic
 * regression (Cox 1958) over a few terms; a pitch that rings may seem to begin again when another string is struck, and an octave above a
 * note's onset may be its own second partial: the peak alone does not tell these from notes, its surroundings do. Weights: the card,
 * fitted by `npm run bench -- listen-fit` on guitars that the weights never heard. Cannot: hear what the network did not. */
import { sigmoid } from "../base/numbers.js";
import { type EvidenceMap, LOGIT_STEPS } from "./played-note.js";

const JUDGE_DEFAULTS = {
  togetherFrames: 3, // onsets within 35 ms of each other are one attack
  beforeFrames: [-6, -3], // rang before: 70 to 35 ms ahead of the onset, clear of its flank
  justAfterFrames: [3, 6], // an onset that is over by then is sharp
  afterFrames: [10, 16], // 116 to 186 ms later a played note still sounds
  unheard: -8, // logit of what lies outside the map
} as const;

/** The terms, each 0…1 but for logits, in the order of the sum.
 * `octaveBelow` `octaveAbove` an octave begins with it; `octaveRings` the octave below sounds; `lowerBegins` the strongest onset beside it
 * is lower; `loudness` as PlayedNote's velocity; `ringing` its pitch rang before; `ringingOnset` that times its logit; `stays` logit of its
 * sounding later, over 4; `lingers` logit of its onset just after, over 4. */
export const JUDGE_TERMS = [
  "one",
  "onset",
  "octaveBelow",
  "octaveAbove",
  "octaveRings",
  "lowerBegins",
  "loudness",
  "ringing",
  "ringingOnset",
  "stays",
  "lingers",
] as const;

export type JudgeTerm = (typeof JUDGE_TERMS)[number];

/** @param loudness of the note within the take, 0…1 */
export function judgeTerms(
  map: EvidenceMap,
  frame: number,
  pitchIdx: number,
  loudness: number,
): Record<JudgeTerm, number> {
  const { togetherFrames, beforeFrames, justAfterFrames, afterFrames } = JUDGE_DEFAULTS;
  const onset = logitAt(map, map.onset, frame, pitchIdx);
  const ringing = sigmoid(meanOf(map, map.sounding, frame, pitchIdx, beforeFrames));
  let strongest = Number.NEGATIVE_INFINITY;
  let strongestIdx = pitchIdx;
  for (let p = 0; p < map.pitchCount; p++) {
    const beside = p === pitchIdx ? Number.NEGATIVE_INFINITY : begins(map, frame, p, togetherFrames);
    if (beside <= strongest) continue;
    strongest = beside;
    strongestIdx = p;
  }
  return {
    one: 1,
    onset,
    octaveBelow: sigmoid(begins(map, frame, pitchIdx - 12, togetherFrames)),
    octaveAbove: sigmoid(begins(map, frame, pitchIdx + 12, togetherFrames)),
    octaveRings: sigmoid(logitAt(map, map.sounding, frame + togetherFrames, pitchIdx - 12)),
    lowerBegins: strongestIdx < pitchIdx ? sigmoid(strongest) : 0,
    loudness,
    ringing,
    ringingOnset: ringing * onset,
    stays: meanOf(map, map.sounding, frame, pitchIdx, afterFrames) / 4,
    lingers: meanOf(map, map.onset, frame, pitchIdx, justAfterFrames) / 4,
  };
}

/** @returns probability that the onset was played, 0…1 */
export const judge = (terms: Record<JudgeTerm, number>, weights: Record<JudgeTerm, number>): number =>
  sigmoid(JUDGE_TERMS.reduce((sum, name) => sum + weights[name] * terms[name], 0));

function logitAt(map: EvidenceMap, of: Int8Array, frame: number, pitchIdx: number): number {
  if (frame < 0 || frame >= map.frameCount || pitchIdx < 0 || pitchIdx >= map.pitchCount)
    return JUDGE_DEFAULTS.unheard;
  return of[frame * map.pitchCount + pitchIdx]! / LOGIT_STEPS;
}

/** The strongest onset of a pitch about a frame, as a logit. */
function begins(map: EvidenceMap, frame: number, pitchIdx: number, reachFrames: number): number {
  let top: number = JUDGE_DEFAULTS.unheard;
  for (let f = frame - reachFrames; f <= frame + reachFrames; f++)
    top = Math.max(top, logitAt(map, map.onset, f, pitchIdx));
  return top;
}

function meanOf(
  map: EvidenceMap,
  of: Int8Array,
  frame: number,
  pitchIdx: number,
  [from, to]: readonly [number, number],
): number {
  let sum = 0;
  for (let d = from; d <= to; d++) sum += logitAt(map, of, frame + d, pitchIdx);
  return sum / (to - from + 1);
}
