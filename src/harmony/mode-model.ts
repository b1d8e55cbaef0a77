/** How likely every tonic and mode is. In: evidence. Out: probabilities of 12 × 9 candidates, and pairs that nothing decides.
 * Method: a log-linear model (multinomial logistic regression) over evidence for the home note and over degrees that sound or are
 * missing; weights were fitted on composed tracks of even seeds and studies of other seeds than the named ones
 * (tests/bench/harmony-fit). A degree that never sounds speaks neither for nor against. Cannot: hear two keys at once. */
import { mod } from "../base/numbers.js";
import { isMinorMode, modeMask, modeRow } from "../theory/scale.js";
import { MODES, type ModeName } from "../theory/scale-table.js";
import type { HomeEvidence } from "./evidence.js";
import type { Undecided } from "./harmony.js";

/** One tonic and mode. tonicPc 0…11. */
export type Key = { tonicPc: number; mode: ModeName };
export type WeighedKey = Key & { probability: number };

/** General key finders' opinion, as one voice: tonic and plain major or minor. strength 0…1. */
export type KeyVote = { tonicPc: number; isMinor: boolean; strength: number };

/** What is known besides the evidence. @property elsewhere the mode of the rest of the recording, and how much of the time the chords are
 * those of the rest moved to each home, 0…1, shape (12): a change of key mostly moves the same music */
export type KeyHints = { vote?: KeyVote; elsewhere?: { mode: ModeName; moved: readonly number[] } };

// A degree of the scale sounds in most music of that mode; a foreign one seldom does. Shares from the composed tracks, even seeds.
const SOUNDS_IF_IN = 0.95;
const SOUNDS_IF_OUT = 0.03;
// How common each mode is, from memory of teaching repertoire; only decides between readings that the notes leave open.
const COMMON: Readonly<Record<ModeName, number>> = {
  ionian: 0.24,
  aeolian: 0.2,
  dorian: 0.15,
  mixolydian: 0.15,
  "harmonic minor": 0.08,
  lydian: 0.07,
  phrygian: 0.06,
  locrian: 0.025,
  "melodic minor": 0.025,
};

/** Weights of modeFeatures, same order. */
export const MODE_WEIGHTS = {
  scale: 1.3,
  covered: 8,
  common: 1,
  bass: 2.7,
  held: 3,
  root: 1.9,
  triad: 2.4,
  wrongTriad: -2,
  first: 2.5,
  last: 1.6,
  phrase: 1.8,
  arrival: 1,
  dominant: 6,
  wrongDominant: -6,
  dim: -1,
  vote: 0.8,
  elsewhere: 2,
  moved: 8,
} as const;

export type FeatureName = keyof typeof MODE_WEIGHTS;

/** Numbers that speak for a key, by name. */
export function modeFeatures(e: HomeEvidence, key: Key, hints: KeyHints = {}): Record<FeatureName, number> {
  const { vote, elsewhere } = hints;
  const { tonicPc: t, mode } = key;
  const mask = modeMask(t, mode);
  let scale = 0;
  e.presence.forEach((p, pc) => {
    const sounds = mask[pc] ? SOUNDS_IF_IN : SOUNDS_IF_OUT;
    scale += Math.log(p * sounds + (1 - p) * (1 - sounds));
  });
  const isMinor = isMinorMode(mode);
  const at = (x: readonly number[]): number => x[t] ?? 0;
  const isDim = mode === "locrian";
  return {
    scale,
    covered: e.strength.reduce((sum, x, pc) => sum + (mask[pc] ? x : 0), 0),
    common: Math.log(COMMON[mode]),
    bass: at(e.bass),
    held: at(e.held),
    root: at(e.root),
    triad: isDim ? at(e.dim) : at(isMinor ? e.minor : e.major),
    wrongTriad: isDim ? at(e.minor) + at(e.major) : at(isMinor ? e.major : e.minor),
    first: at(e.first),
    last: at(e.last),
    phrase: at(e.phrase),
    arrival: at(e.arrival),
    dominant: mask[mod(t + 11, 12)] ? at(e.dominant) : 0,
    wrongDominant: mask[mod(t + 11, 12)] ? 0 : at(e.dominant),
    dim: isDim ? 0 : at(e.dim),
    vote: vote && vote.tonicPc === t && vote.isMinor === isMinor ? vote.strength : 0,
    elsewhere: mode === elsewhere?.mode ? 1 : 0,
    moved: mode === elsewhere?.mode ? (elsewhere.moved[t] ?? 0) : 0,
  };
}

/** Every key with its probability, likeliest first; ties by tonic, then by the table of modes. */
export function weighKeys(e: HomeEvidence, hints: KeyHints = {}): WeighedKey[] {
  const keys: (Key & { score: number })[] = [];
  for (let tonicPc = 0; tonicPc < 12; tonicPc++)
    for (const { mode } of MODES) {
      const features = modeFeatures(e, { tonicPc, mode }, hints);
      let score = 0;
      for (const name of Object.keys(MODE_WEIGHTS) as FeatureName[])
        score += MODE_WEIGHTS[name] * features[name];
      keys.push({ tonicPc, mode, score });
    }
  const top = Math.max(...keys.map((k) => k.score));
  const total = keys.reduce((sum, k) => sum + Math.exp(k.score - top), 0);
  return keys
    .map(({ tonicPc, mode, score }) => ({ tonicPc, mode, probability: Math.exp(score - top) / total }))
    .sort((a, b) => b.probability - a.probability || a.tonicPc - b.tonicPc);
}

const UNDECIDED_DEFAULTS = {
  absent: 0.6, // a deciding degree sounds, in one of its forms, with at least this probability, or it decides nothing
  disputed: 0.4, // a mode so likely beside the first (as a share of it) is still open, though something sounds
} as const;

/** Modes on the same tonic that differ from `key` in one degree only, and which nothing parts: the degree sounds in neither form, or
 * what sounds leaves both likely. The degree is named as `key` has it; likelier rivals first. @param weighed from weighKeys */
export function undecidedPairs(e: HomeEvidence, key: Key, weighed: readonly WeighedKey[]): Undecided[] {
  const own = modeRow(key.mode).degrees;
  const present = (step: number): number => e.presence[mod(key.tonicPc + step, 12)] ?? 0;
  const chance = (mode: ModeName): number =>
    weighed.find((k) => k.tonicPc === key.tonicPc && k.mode === mode)?.probability ?? 0;
  return MODES.flatMap((other) => {
    const differing = own.flatMap(([step, degree], k) => {
      const theirs = other.degrees[k]?.[0] ?? step;
      return theirs === step ? [] : [{ step, degree, theirs }];
    });
    const [only] = differing;
    if (!only || differing.length !== 1) return [];
    const isAbsent = Math.max(present(only.step), present(only.theirs)) < UNDECIDED_DEFAULTS.absent;
    const isDisputed = chance(other.mode) > UNDECIDED_DEFAULTS.disputed * chance(key.mode);
    if (!isAbsent && !isDisputed) return [];
    const pair: Undecided = { between: [key.mode, other.mode], missingDegree: only.degree };
    return [{ pair, chance: chance(other.mode) }];
  })
    .sort((a, b) => b.chance - a.chance)
    .map(({ pair }) => pair);
}
