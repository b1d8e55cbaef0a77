/** Key or mode of a take, with its reasons. In: placed notes, their chords, the grid. Out: a ModeGuess.
 * Method: which notes belong (evidence.ts), what makes home (held and low notes, starts, ends, roots, cadences), then every tonic and
 * mode is weighed (mode-model.ts), and what no note decides is said to be open. Cannot: name a key for music that leaves its key;
 * the strongest is named. */
import type { Grid, PlacedNote } from "../grid/grid.js";
import { pitchClassOf } from "../theory/pitch.js";
import { parentScale, spellTonic } from "../theory/scale.js";
import { type HomeEvidence, homeEvidence, lowNotes, notePresence, noteStrength } from "./evidence.js";
import type { ChordSpan, ModeGuess } from "./harmony.js";
import { type KeyHints, undecidedPairs, weighKeys } from "./mode-model.js";
import { improviseWith, modeReasons } from "./reasons.js";
import { spellHarmony } from "./spell.js";

/** Candidates under this probability are not listed. */
const LISTED = 0.01;
const MOST_LISTED = 6;

export type ModeInput = {
  notes: readonly PlacedNote[];
  chords: readonly ChordSpan[];
  grid: Grid;
  hints?: KeyHints;
};

/** Finds the mode of a take. Needs no notes to answer, but then says so by its confidence. */
export function findMode(input: ModeInput): ModeGuess {
  const evidence = homeEvidence(input.chords, notePresence(input.notes), noteStrength(input.notes));
  const low = lowNotes(input.notes, input.grid);
  // Chords say what the bass is; lowest notes of the bars say it again where a chord was misread.
  evidence.bass = evidence.bass.map((x, pc) => 0.6 * x + 0.4 * (low[pc] ?? 0));
  return guessMode(evidence, input.chords, input.hints);
}

/** The guess that evidence makes, for takes and tracks alike. */
export function guessMode(
  evidence: HomeEvidence,
  chords: readonly ChordSpan[],
  hints: KeyHints = {},
): ModeGuess {
  const weighed = weighKeys(evidence, hints);
  const best = weighed[0];
  if (!best) throw new Error("no candidates were weighed");
  const tonic = spellTonic(best.tonicPc, best.mode);
  const key = { tonic, mode: best.mode };
  const undecided = undecidedPairs(evidence, best, weighed);
  const spelled = spellHarmony(chords, key);
  return {
    ...key,
    confidence: best.probability,
    candidates: weighed
      .filter((k, idx) => idx === 0 || (k.probability >= LISTED && idx < MOST_LISTED))
      .map((k) => ({
        tonic: k.tonicPc === pitchClassOf(tonic) ? tonic : spellTonic(k.tonicPc, k.mode),
        mode: k.mode,
        probability: k.probability,
      })),
    undecided,
    evidence: modeReasons(evidence, spelled, key, undecided),
    parentScale: parentScale(tonic, best.mode),
    ...improviseWith(evidence, key, undecided),
  };
}
