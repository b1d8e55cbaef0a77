/** Notes from evidence: where onsets peak, how sure they are, when they end.
 * In: the quantised maps of the whole take. Out: picked notes and doubtful candidates. Method: local maxima of the onset logit over
 * ±3 frames, placed between frames by a parabola; offsets where the sounding logit falls and stays down. Thresholds: the card.
 * Cannot: split two plucks of one pitch closer than 50 ms; that is a tremolo's fastest. */

import type { ListenerCard } from "./card.js";
import { judge, judgeTerms } from "./judge.js";
import type { EvidenceMap, PlayedNote } from "./played-note.js";
import { LOGIT_STEPS } from "./played-note.js";

const PICK_DEFAULTS = {
  reachFrames: 3,
  leastGapSec: 0.05, // two onsets of a pitch closer than this are one
  leastLogit: -3, // peaks under this are no onsets: the listener keeps their loudness from here
  leastConfidence: 0.06, // candidates under this help nobody: pooling has never raised one
  offFrames: 4, // sounding must stay down this long (46 ms) for a note to end
  shortestSec: 0.06,
  longestSec: 12,
} as const;

/** What the maps do not hold of an onset that is at least thinkable: how loud it is, and its strings where the sound tells. */
export type Side = (
  frame: number,
  pitchIdx: number,
) => { level: number; shares?: readonly number[] } | undefined;

type Peak = { frame: number; pitchIdx: number; atFrame: number; logit: number };

/** @returns notes by onset then pitch, and candidates under the card's threshold in the same order */
export function pickNotes(
  map: EvidenceMap,
  card: ListenerCard,
  side: Side,
): { notes: PlayedNote[]; candidates: PlayedNote[] } {
  const peaks = findPeaks(map);
  const nextOfPitch = new Map<number, number>();
  const all: { note: PlayedNote; isPicked: boolean }[] = [];
  const loudest = loudnessScale(peaks, side);
  for (let k = peaks.length - 1; k >= 0; k--) {
    const peak = peaks[k]!;
    const beside = side(peak.frame, peak.pitchIdx);
    const velocity = Math.min(1, Math.sqrt((beside?.level ?? 0) / loudest));
    const confidence = judge(judgeTerms(map, peak.frame, peak.pitchIdx, velocity), card.calibration);
    if (confidence < PICK_DEFAULTS.leastConfidence) continue;
    const isPicked = confidence >= card.pickConfidence;
    const nextFrame = nextOfPitch.get(peak.pitchIdx) ?? map.frameCount;
    const onsetSec = Math.max(0, peak.atFrame * map.frameSec);
    const endSec = endFrame(map, card, peak, nextFrame) * map.frameSec;
    all.push({
      isPicked,
      note: {
        onsetSec,
        offsetSec: Math.max(onsetSec + PICK_DEFAULTS.shortestSec, endSec),
        midi: map.lowestMidi + peak.pitchIdx,
        confidence,
        velocity,
        ...(beside?.shares ? { stringShares: beside.shares } : {}),
      },
    });
    if (isPicked) nextOfPitch.set(peak.pitchIdx, peak.frame);
  }
  const byOnset = (a: PlayedNote, b: PlayedNote): number => a.onsetSec - b.onsetSec || a.midi - b.midi;
  const notes = all.filter((a) => a.isPicked).map((a) => a.note);
  const candidates = all.filter((a) => !a.isPicked).map((a) => a.note);
  return { notes: notes.sort(byOnset), candidates: candidates.sort(byOnset) };
}

/** Peaks by frame, then pitch; of two of a pitch within the least gap the stronger stays. */
function findPeaks(map: EvidenceMap): Peak[] {
  const { onset, pitchCount, frameCount, frameSec } = map;
  const { reachFrames, leastGapSec, leastLogit } = PICK_DEFAULTS;
  const gapFrames = Math.floor(leastGapSec / frameSec);
  const last = new Array<Peak | undefined>(pitchCount).fill(undefined);
  const peaks: Peak[] = [];
  for (let f = 0; f < frameCount; f++)
    for (let p = 0; p < pitchCount; p++) {
      const value = onset[f * pitchCount + p]!;
      const logit = value / LOGIT_STEPS;
      if (logit < leastLogit) continue;
      let isPeak = true;
      for (let d = 1; d <= reachFrames && isPeak; d++) {
        if (f - d >= 0 && onset[(f - d) * pitchCount + p]! >= value) isPeak = false;
        if (f + d < frameCount && onset[(f + d) * pitchCount + p]! > value) isPeak = false;
      }
      if (!isPeak) continue;
      const peak = { frame: f, pitchIdx: p, atFrame: f + parabolaOff(map, f, p), logit };
      const before = last[p];
      if (before && f - before.frame <= gapFrames) {
        if (before.logit >= logit) continue;
        peaks.splice(peaks.lastIndexOf(before), 1);
      }
      last[p] = peak;
      peaks.push(peak);
    }
  return peaks;
}

/** Where between frames a peak lies, −0.5…0.5: the top of a parabola through three probabilities' logits. */
function parabolaOff(map: EvidenceMap, f: number, p: number): number {
  if (f === 0 || f === map.frameCount - 1) return 0;
  const left = map.onset[(f - 1) * map.pitchCount + p]!;
  const mid = map.onset[f * map.pitchCount + p]!;
  const right = map.onset[(f + 1) * map.pitchCount + p]!;
  const bend = left - 2 * mid + right;
  return bend === 0 ? 0 : Math.max(-0.5, Math.min(0.5, (left - right) / (2 * bend)));
}

function endFrame(map: EvidenceMap, card: ListenerCard, peak: Peak, nextFrame: number): number {
  const threshold = card.offLogit * LOGIT_STEPS;
  const limit = Math.min(
    nextFrame,
    peak.frame + Math.round(PICK_DEFAULTS.longestSec / map.frameSec),
    map.frameCount,
  );
  let down = 0;
  for (let f = peak.frame + 2; f < limit; f++) {
    down = map.sounding[f * map.pitchCount + peak.pitchIdx]! < threshold ? down + 1 : 0;
    if (down >= PICK_DEFAULTS.offFrames) return f - down + 1;
  }
  return limit;
}

/** Level that counts as loudest: the 98th percentile of the peaks that are more likely onsets than not, so that one thump does not set
 * the scale. */
function loudnessScale(peaks: readonly Peak[], side: Side): number {
  const levels = peaks.filter((k) => k.logit > 0).map((k) => side(k.frame, k.pitchIdx)?.level ?? 0);
  levels.sort((a, b) => a - b);
  return Math.max(1e-9, levels[Math.floor((levels.length - 1) * 0.98)] ?? 1);
}
