import type { ModeName } from "../../../src/harmony/harmony.js";
import type { TuningName } from "./grips.js";

/** Chord plans, a bar each ("C G" splits the bar in two), of shapes without the capo. `a` and `b` are sections.
 * The deciding degree of each mode sounds, except where `open` says that it is left out on purpose.
 * Composed for this project. */
export type ProgressionRow = {
  name: string;
  tuning: TuningName;
  tonic: string;
  mode: ModeName;
  a: string;
  b: string;
  open?: true;
};

const rows = (tuning: TuningName, list: readonly [string, string, ModeName, string, string, true?][]) =>
  list.map(([name, tonic, mode, a, b, open]) => ({
    name,
    tuning,
    tonic,
    mode,
    a,
    b,
    ...(open === true ? { open } : {}),
  }));

export const PROGRESSIONS: readonly ProgressionRow[] = [
  ...rows("standard", [
    ["mixolydian-pedal-a", "A", "mixolydian", "A | G/A | D/A | A", "A | Em/A | G/A | A"],
    ["ionian-c", "C", "ionian", "C | Am | F | G", "F | C/E | Dm7 | G7"],
    ["ionian-g", "G", "ionian", "G | D/F# | Em | C", "C | G/B | Am7 | D7"],
    ["ionian-d-pedal", "D", "ionian", "D | A/D | G/D | D", "Bm | G | A7 | D"],
    ["ionian-e-halves", "E", "ionian", "E | A/E | E B | E", "A/E | E | B A/E | B"],
    ["dorian-d", "D", "dorian", "Dm7 | G/D | Dm7 | C", "Am | G | Em7 | Dm"],
    ["dorian-a", "A", "dorian", "Am | D/A | Am7 | G/A", "Em | D/A | G/A | Am"],
    ["dorian-e", "E", "dorian", "Em | A/E | Em7 | D/F#", "G | A/E | Bm7 | Em"],
    ["phrygian-e", "E", "phrygian", "Em | F/E | Em | Dm/E", "F/E | G/E | Dm/E | Em"],
    ["phrygian-b", "B", "phrygian", "Em/B | C/B | Em/B | Bm", "Bm | C/B | Am/B | Bm"],
    ["lydian-d", "D", "lydian", "D | E/D | D | A/D", "Bm | E/D | A/D | D"],
    ["lydian-c", "C", "lydian", "C | D | G/C | C", "Em | D/F# | G/B | C"],
    ["lydian-f", "F", "lydian", "F | G | Am | F", "Em7 | G | Am | F"],
    ["mixolydian-g", "G", "mixolydian", "G | F | C/G | G", "Dm | F | C/G | G"],
    ["mixolydian-e", "E", "mixolydian", "E | D/F# | A/E | E", "A/E | E | D/F# | E"],
    ["aeolian-a", "A", "aeolian", "Am | F/A | G/A | Am", "Dm/A | Am | F | G"],
    ["aeolian-e", "E", "aeolian", "Em | C/E | D/F# | Em", "Am | Em | C | Bm"],
    ["aeolian-b", "B", "aeolian", "Bm | G | Em | Bm", "D | A | G | F#m"],
    ["locrian-b", "B", "locrian", "Bm7b5 | C/B | Bm7b5 | Am/B", "F/B | Em/B | C/B | Bm7b5"],
    ["harmonic-minor-a", "A", "harmonic minor", "Am | Dm | E7 | Am", "Dm | Am/E | E | Am"],
    ["harmonic-minor-e", "E", "harmonic minor", "Em | Am | B7 | Em", "C | Am/E | B7 | Em"],
    ["melodic-minor-a", "A", "melodic minor", "Am | D/A | E/A | Am", "D | Am | E7 | Am"],
    ["open-seventh-d", "D", "ionian", "D | G/D | D | G", "G/D | D | Em7 | D", true],
    ["open-sixth-a", "A", "aeolian", "Am | Em/A | Am | G/A", "Em | Am | G/A | Am", true],
    ["open-fourth-c", "C", "ionian", "C | G/C | Am | C", "Em | Am | G/C | C", true],
  ]),
  ...rows("drop-d", [
    ["drop-d-mixolydian", "D", "mixolydian", "D | C/D | G/D | D", "Am | C/D | G/D | D"],
    ["drop-d-dorian", "D", "dorian", "Dm | G/D | C/D | Dm", "Am | G/D | F/D | Dm"],
    ["drop-d-lydian", "D", "lydian", "D | E/D | A/D | D", "Bm | E/D | A/D | D"],
    ["drop-d-aeolian", "D", "aeolian", "Dm | Bb/D | C/D | Dm", "Gm/D | Bb/D | F/D | Dm"],
    ["drop-d-phrygian", "D", "phrygian", "Dm | Eb/D | Gm/D | Dm", "Bb/D | Eb/D | Gm/D | Dm"],
    ["drop-d-ionian", "D", "ionian", "D | A/D | G/D | D", "Bm | Em/D | A/D | D"],
  ]),
  ...rows("dadgad", [
    ["dadgad-ionian", "D", "ionian", "D | G | A | D", "Bm7 | G/D | A | D"],
    ["dadgad-mixolydian", "D", "mixolydian", "D | Cadd9 | G/D | D", "Em7 | Cadd9 | G | D"],
    ["dadgad-dorian", "D", "dorian", "Dm | G/D | Cadd9 | Dm", "Am | G | Cadd9 | Dm"],
    ["dadgad-open-third", "D", "mixolydian", "Dsus4 | Cadd9 | Asus4 | D5", "Em7 | Cadd9 | G/D | Dsus4", true],
  ]),
];

/** Chord degrees of each mode for studies in any key (barre grips): semitones above the tonic and quality. */
export const DEGREE_PLANS: readonly { mode: ModeName; a: readonly string[]; b: readonly string[] }[] = [
  { mode: "ionian", a: ["0", "9m", "5", "7"], b: ["5", "7", "4m", "9m"] },
  { mode: "dorian", a: ["0m", "5", "0m7", "10"], b: ["7m", "5", "10", "0m"] },
  { mode: "phrygian", a: ["0m", "1", "0m", "10m"], b: ["1", "3", "10m", "0m"] },
  { mode: "lydian", a: ["0", "2", "0", "7"], b: ["4m", "2", "7", "0"] },
  { mode: "mixolydian", a: ["0", "10", "5", "0"], b: ["7m", "10", "5", "0"] },
  { mode: "aeolian", a: ["0m", "8", "10", "0m"], b: ["5m", "0m", "8", "10"] },
  { mode: "harmonic minor", a: ["0m", "5m", "7", "0m"], b: ["8", "5m", "7", "0m"] },
];
