import { largestMatching, type Prf, prf, roundTo4 } from "./match.js";

/** What scoring needs of a note; string and fret where they are known. */
export type ScoredNote = {
  onsetSec: number;
  offsetSec: number;
  midi: number;
  string?: number;
  fret?: number;
};

/** Tolerances of mir_eval.transcription (Raffel et al. 2014). */
const ONSET_TOLERANCE_SEC = 0.05;
const OFFSET_RATIO = 0.2;
const OFFSET_MIN_SEC = 0.05;

export type NoteMatchOptions = { withOffsets?: boolean; withPlace?: boolean; pitchless?: boolean };

/** Matches estimated to reference notes: onset within ±50 ms (rounded to 0.1 ms first), the same pitch, at most one partner each.
 * @returns pairs [ref, est] */
export function matchNotes(
  ref: readonly ScoredNote[],
  est: readonly ScoredNote[],
  options: NoteMatchOptions = {},
): [number, number][] {
  const byOnset = ref.map((_, idx) => idx).sort((a, b) => (ref[a]?.onsetSec ?? 0) - (ref[b]?.onsetSec ?? 0));
  const partners = est.map((e) => {
    const near: { idx: number; distance: number }[] = [];
    for (let k = firstFrom(ref, byOnset, e.onsetSec - 0.06); k < byOnset.length; k++) {
      const idx = byOnset[k] as number;
      const r = ref[idx] as ScoredNote;
      if (r.onsetSec > e.onsetSec + 0.06) break;
      const distance = roundTo4(Math.abs(r.onsetSec - e.onsetSec));
      if (distance > ONSET_TOLERANCE_SEC) continue;
      if (options.pitchless !== true && r.midi !== e.midi) continue;
      if (options.withPlace === true && (r.string !== e.string || r.fret !== e.fret)) continue;
      if (options.withOffsets === true) {
        const tolerance = Math.max(OFFSET_RATIO * (r.offsetSec - r.onsetSec), OFFSET_MIN_SEC);
        if (roundTo4(Math.abs(r.offsetSec - e.offsetSec)) > tolerance) continue;
      }
      near.push({ idx, distance });
    }
    return near.sort((a, b) => a.distance - b.distance || a.idx - b.idx).map((n) => n.idx);
  });
  return largestMatching(partners, ref.length);
}

function firstFrom(ref: readonly ScoredNote[], byOnset: readonly number[], fromSec: number): number {
  let low = 0;
  let high = byOnset.length;
  while (low < high) {
    const mid = (low + high) >> 1;
    if ((ref[byOnset[mid] as number] as ScoredNote).onsetSec < fromSec) low = mid + 1;
    else high = mid;
  }
  return low;
}

/** Onset F1 (±50 ms, exact pitch); with offsets as well; with string and fret as well. */
export function scoreNotes(
  ref: readonly ScoredNote[],
  est: readonly ScoredNote[],
): { onset: Prf; onsetOffset: Prf; place: Prf } {
  const count = (options: NoteMatchOptions): Prf =>
    prf(matchNotes(ref, est, options).length, ref.length, est.length);
  return { onset: count({}), onsetOffset: count({ withOffsets: true }), place: count({ withPlace: true }) };
}

/** Kinds of wrong notes: in precision "re-struck" (the same pitch was already ringing), "octave", "twelfth", "double octave"
 * (above a true onset within ±50 ms), "other"; in recall "octave pinch", "inner" (between others of a hit), "restrike", "other". */
export type ErrorKinds = {
  falseNotes: Record<"restruck" | "octave" | "twelfth" | "doubleOctave" | "timing" | "other", number>;
  missedNotes: Record<"restrike" | "octavePinch" | "inner" | "soft" | "timing" | "other", number>;
};

/** @param ref with velocity where known: "soft" is under half of the hit's loudest note */
export function errorKinds(
  ref: readonly (ScoredNote & { velocity?: number })[],
  est: readonly ScoredNote[],
): ErrorKinds {
  const pairs = matchNotes(ref, est);
  const refHit = new Set(pairs.map(([r]) => r));
  const estHit = new Set(pairs.map(([, e]) => e));
  const falseNotes = { restruck: 0, octave: 0, twelfth: 0, doubleOctave: 0, timing: 0, other: 0 };
  const missedNotes = { restrike: 0, octavePinch: 0, inner: 0, soft: 0, timing: 0, other: 0 };
  est.forEach((e, idx) => {
    if (estHit.has(idx)) return;
    const together = ref.filter((r) => Math.abs(r.onsetSec - e.onsetSec) <= ONSET_TOLERANCE_SEC);
    const above = (semitones: number): boolean => together.some((r) => r.midi + semitones === e.midi);
    if (ref.some((r) => r.midi === e.midi && Math.abs(r.onsetSec - e.onsetSec) <= 0.15)) falseNotes.timing++;
    else if (ref.some((r) => r.midi === e.midi && r.onsetSec < e.onsetSec && r.offsetSec > e.onsetSec - 0.1))
      falseNotes.restruck++;
    else if (above(12)) falseNotes.octave++;
    else if (above(19)) falseNotes.twelfth++;
    else if (above(24)) falseNotes.doubleOctave++;
    else falseNotes.other++;
  });
  ref.forEach((r, idx) => {
    if (refHit.has(idx)) return;
    const hit = ref.filter((o) => o !== r && Math.abs(o.onsetSec - r.onsetSec) <= ONSET_TOLERANCE_SEC);
    const loudest = Math.max(0, ...hit.map((o) => o.velocity ?? 0));
    if (est.some((e, k) => !estHit.has(k) && e.midi === r.midi && Math.abs(r.onsetSec - e.onsetSec) <= 0.15))
      missedNotes.timing++;
    else if (hit.some((o) => [12, 19, 24].includes(r.midi - o.midi))) missedNotes.octavePinch++;
    else if (hit.some((o) => o.midi < r.midi) && hit.some((o) => o.midi > r.midi)) missedNotes.inner++;
    else if (ref.some((o) => o.midi === r.midi && o.onsetSec < r.onsetSec && o.offsetSec > r.onsetSec - 0.1))
      missedNotes.restrike++;
    else if (loudest > 0 && (r.velocity ?? 1) < loudest / 2) missedNotes.soft++;
    else missedNotes.other++;
  });
  return { falseNotes, missedNotes };
}
