import type { ModeName } from "../theory/scale-table.js";

export type { ModeName };

/** A chord over a stretch of time. `symbol` as printed (`Dm7`, `G/A`, "N.C." when none), `root` and `bass` spelled as tonics are.
 * @property beat from 1, fractions allowed @property alternatives other symbols, likeliest first */
export type ChordSpan = {
  startSec: number;
  endSec: number;
  bar: number;
  beat: number;
  symbol: string;
  root: string;
  bass: string;
  confidence: number;
  alternatives: string[];
};

type ModeCandidate = { tonic: string; mode: ModeName; probability: number };

/** Two modes that the music does not separate, and the degree that would ("6", "b7", "3"). */
export type Undecided = { between: [ModeName, ModeName]; missingDegree: string };

/** Key or mode with its reasons; the JSON object `mode` of a sheet, and most of `key --json`.
 * @property evidence sentences a teacher can read aloud, strongest first
 * @property usage "pentatonic" or "blues" where only those degrees sound
 * @property parentScale such as "D major" for A mixolydian @property improvise scales to improvise with, best first */
export type ModeGuess = {
  tonic: string;
  mode: ModeName;
  confidence: number;
  candidates: ModeCandidate[];
  undecided: Undecided[];
  evidence: string[];
  usage?: "pentatonic" | "blues";
  parentScale: string;
  improvise: string[];
};

/** A stretch of a track in one key, by `key`. @property improvise scales to improvise with, best first */
export type KeySection = {
  startSec: number;
  endSec: number;
  tonic: string;
  mode: ModeName;
  confidence: number;
  improvise: string[];
};
