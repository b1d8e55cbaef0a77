// Listening again over repeats: bars that are the same music share their evidence.
// In: a Listening, the bars with their beats, a group number a bar. Out: notes decided anew, and how many changed.
// Method: a spot is a pitch at a place of the bar (in beats). Every sibling bar is asked for its onset evidence at that
// spot; what they say together becomes the prior of a doubtful note or candidate of this bar. A note that is clearly
// there, or clearly absent, in one bar stays so: it is a variation. Source: log odds add for independent evidence
// (naive Bayes); its effect: tests/bench/grid-heard.bench.ts. Cannot do: bars grouped wrongly are taken at their word, within limits.
import { clamp, logit, sigmoid } from "../base/numbers.js";
import { type EvidenceMap, type Listening, LOGIT_STEPS, type PlayedNote } from "./played-note.js";

export const POOL_DEFAULTS = Object.freeze({
  // The next four on hard takes of studies 7000 to 7060, heard with the card's calibration of scale 1 and shift -0.693.
  evenLogit: 0.4, // logit of the confidence at which half of the onsets were played
  slope: 4, // how much faster the odds of having been played rise than the listener's own logit, above it
  slopeBelow: 2, // and below it
  doubt: 0.5, // siblings' worth of doubt on either side
  nearSec: 0.05, // onsets this near the same place of the bar are the same note
  sure: 1.5, // logits, the listener's own: evidence this clear is not argued with
  clearlyAbsent: -3.2, // logits: what is so plainly not there is not added
  mostPrior: 3, // logits: siblings never speak louder than this
  addAbove: 0.3, // logits after pooling: what is added must be more likely than not
  dropBelow: -0.3,
  sameNoteSec: 0.06, // a second onset of a pitch nearer than this is no new note
  leastSiblings: 2, // one sibling alone may share the slip
});

/** A bar with its beats: `beatSec` from its first beat to the next bar's, rising. */
export type PoolBar = { startSec: number; endSec: number; beatSec: readonly number[] };

/** Pools evidence over bars that are the same music; where nothing repeats, the notes come back as they were.
 * @param groupOfBar one number a bar, equal = the same music
 * @returns notes by onset then pitch; `changed` counts notes added and taken away */
export function poolRepeats(
  listening: Listening,
  bars: readonly PoolBar[],
  groupOfBar: readonly number[],
): { notes: PlayedNote[]; changed: number } {
  const { notes, candidates, evidence } = listening;
  const members = new Map<number, number[]>();
  bars.forEach((_, b) => {
    const group = groupOfBar[b];
    if (group === undefined) return;
    members.set(group, [...(members.get(group) ?? []), b]);
  });
  const all = [...notes, ...candidates].sort((a, b) => a.onsetSec - b.onsetSec || a.midi - b.midi);
  const byPitch = new Map<number, PlayedNote[]>();
  for (const n of all) byPitch.set(n.midi, [...(byPitch.get(n.midi) ?? []), n]);
  const picked = new Set(notes);
  const decided = new Map<PlayedNote, PlayedNote | undefined>();
  let changed = 0;
  for (const note of all) {
    const said = logit(note.confidence);
    if (said > POOL_DEFAULTS.sure || said < POOL_DEFAULTS.clearlyAbsent) continue;
    const own = oddsOf(said);
    const b = barAt(bars, note.onsetSec);
    if (b === undefined) continue;
    const siblings = (members.get(groupOfBar[b] as number) ?? []).filter((m) => m !== b);
    if (siblings.length < POOL_DEFAULTS.leastSiblings) continue;
    const place = placeIn(bars[b] as PoolBar, note.onsetSec);
    const says = siblings.map((m) => {
      const sec = timeAt(bars[m] as PoolBar, place);
      return heardAt(byPitch.get(note.midi) ?? [], evidence, note.midi, sec);
    });
    const pooled = own + priorFrom(says);
    const confidence = sigmoid(clamp(pooled, -6, 6));
    if (picked.has(note)) {
      if (pooled < POOL_DEFAULTS.dropBelow) {
        decided.set(note, undefined);
        changed++;
      } else decided.set(note, { ...note, confidence: Math.max(0.5, confidence) });
    } else if (pooled > POOL_DEFAULTS.addAbove) decided.set(note, { ...note, confidence });
  }
  const kept: PlayedNote[] = [];
  for (const note of notes) {
    if (!decided.has(note)) kept.push(note);
    else {
      const now = decided.get(note);
      if (now !== undefined) kept.push(now);
    }
  }
  const added: PlayedNote[] = [];
  const hopefuls = candidates.filter((c) => decided.get(c) !== undefined);
  hopefuls.sort((x, y) => y.confidence - x.confidence || x.onsetSec - y.onsetSec || x.midi - y.midi);
  for (const candidate of hopefuls) {
    const near = (n: PlayedNote): boolean =>
      n.midi === candidate.midi && Math.abs(n.onsetSec - candidate.onsetSec) < POOL_DEFAULTS.sameNoteSec;
    if (kept.some(near) || added.some(near)) continue;
    added.push(decided.get(candidate) as PlayedNote);
    changed++;
  }
  const out = added.length > 0 ? endAtRestrike([...kept, ...added]) : kept;
  return { notes: out, changed };
}

/** A note that sounds on into an added one of the same pitch ends there. */
function endAtRestrike(notes: PlayedNote[]): PlayedNote[] {
  notes.sort((a, b) => a.onsetSec - b.onsetSec || a.midi - b.midi);
  const next = new Map<number, number>();
  const out: PlayedNote[] = [];
  for (let k = notes.length - 1; k >= 0; k--) {
    const n = notes[k] as PlayedNote;
    const limit = next.get(n.midi) ?? Number.POSITIVE_INFINITY;
    out.push(n.offsetSec > limit ? { ...n, offsetSec: Math.max(n.onsetSec + 0.03, limit) } : n);
    next.set(n.midi, n.onsetSec);
  }
  return out.reverse();
}

/** Log odds that an onset was played, from the listener's logit. */
const oddsOf = (said: number): number => {
  const { evenLogit, slope, slopeBelow } = POOL_DEFAULTS;
  return clamp((said > evenLogit ? slope : slopeBelow) * (said - evenLogit), -8, 8);
};

/** Prior log odds of a spot from its siblings' probabilities: the share of them that have the note, with some
 * doubt on either side. */
function priorFrom(says: readonly number[]): number {
  const share =
    (says.reduce((s, p) => s + p, 0) + POOL_DEFAULTS.doubt) / (says.length + 2 * POOL_DEFAULTS.doubt);
  return clamp(logit(share), -POOL_DEFAULTS.mostPrior, POOL_DEFAULTS.mostPrior);
}

/** Probability of an onset of a pitch about a moment: of a note or candidate there, else of the evidence map. */
function heardAt(ofPitch: readonly PlayedNote[], map: EvidenceMap, midi: number, sec: number): number {
  let best = -1;
  for (const n of ofPitch)
    if (Math.abs(n.onsetSec - sec) <= POOL_DEFAULTS.nearSec) best = Math.max(best, n.confidence);
  if (best >= 0) return sigmoid(oddsOf(logit(best)));
  const pitchIdx = midi - map.lowestMidi;
  if (pitchIdx < 0 || pitchIdx >= map.pitchCount) return 0.02;
  const first = Math.max(0, Math.ceil((sec - POOL_DEFAULTS.nearSec) / map.frameSec));
  const last = Math.min(map.frameCount - 1, Math.floor((sec + POOL_DEFAULTS.nearSec) / map.frameSec));
  let peak = -128;
  for (let f = first; f <= last; f++) peak = Math.max(peak, map.onset[f * map.pitchCount + pitchIdx]!);
  // What was no candidate is at most doubtful: a flank of another note's peak must not count as one.
  return Math.min(0.3, sigmoid(oddsOf(peak / LOGIT_STEPS)));
}

function barAt(bars: readonly PoolBar[], sec: number): number | undefined {
  // A hit on beat 1 may come a little early; it belongs to the bar it opens.
  const b = bars.findLastIndex((bar) => bar.startSec - POOL_DEFAULTS.nearSec <= sec);
  const bar = bars[b];
  return bar !== undefined && sec < bar.endSec + POOL_DEFAULTS.nearSec ? b : undefined;
}

/** Place in a bar in beats, by its own beats. */
function placeIn(bar: PoolBar, sec: number): number {
  const { beatSec } = bar;
  let k = 0;
  while (k < beatSec.length - 2 && beatSec[k + 1]! <= sec) k++;
  return k + (sec - beatSec[k]!) / (beatSec[k + 1]! - beatSec[k]!);
}

/** The inverse of placeIn. */
function timeAt(bar: PoolBar, place: number): number {
  const { beatSec } = bar;
  const k = clamp(Math.floor(place), 0, Math.max(0, beatSec.length - 2));
  return beatSec[k]! + (place - k) * (beatSec[k + 1]! - beatSec[k]!);
}
