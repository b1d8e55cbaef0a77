import { pitchClassOf, readSymbol } from "../takes/grips.js";

/** A chord over time; symbol as printed, "N.C." for none. */
export type TimedChord = { startSec: number; endSec: number; symbol: string };

type Triad = { rootPc: number; kind: "maj" | "min" | "none" | "other" };

// Which triad a printed quality holds within the first eight semitones, as mir_eval.chord.majmin looks at it.
// Source: qualities and shorthands of Harte 2010, table 2; printed names are common practice.
const MAJOR = new Set(["", "maj7", "M7", "7", "6", "9", "maj9", "add9", "13", "6/9", "maj13", "7b9"]);
const MINOR = new Set(["m", "m7", "m6", "m9", "mmaj7", "m(maj7)", "madd9", "m11"]);
const HARTE: Record<string, string> = {
  "": "maj",
  m: "min",
  "7": "7",
  m7: "min7",
  maj7: "maj7",
  "6": "maj6",
  m6: "min6",
  "9": "9",
  m9: "min9",
  maj9: "maj9",
  add9: "maj(9)",
  sus2: "sus2",
  sus4: "sus4",
  "7sus4": "sus4(b7)",
  dim: "dim",
  dim7: "dim7",
  aug: "aug",
  m7b5: "hdim7",
  "5": "1(5)",
};

/** A printed symbol in Harte's syntax without its bass, for mir_eval; undefined when there is no entry. */
export function harteOf(symbol: string): string | undefined {
  if (symbol === "N.C.") return "N";
  const { root, quality } = readSymbol(symbol);
  const harte = HARTE[quality];
  return harte === undefined ? undefined : harte === "1(5)" ? `${root}:5` : `${root}:${harte}`;
}

function triadOf(symbol: string): Triad {
  if (symbol === "N.C.") return { rootPc: -1, kind: "none" };
  const { root, quality } = readSymbol(symbol);
  return {
    rootPc: pitchClassOf(root),
    kind: MAJOR.has(quality) ? "maj" : MINOR.has(quality) ? "min" : "other",
  };
}

/** Cuts both lists at every border of either; gaps of the estimate are "N.C.". */
function segments(
  ref: readonly TimedChord[],
  est: readonly TimedChord[],
): { sec: number; ref: string; est: string }[] {
  const start = Math.min(...ref.map((c) => c.startSec));
  const end = Math.max(...ref.map((c) => c.endSec));
  const borders = [...new Set([...ref, ...est].flatMap((c) => [c.startSec, c.endSec]))]
    .filter((t) => t >= start && t <= end)
    .sort((a, b) => a - b);
  return borders.slice(0, -1).flatMap((from, k) => {
    const to = borders[k + 1] as number;
    const at = (list: readonly TimedChord[]): string | undefined =>
      list.find((c) => c.startSec <= from && c.endSec >= to)?.symbol;
    const want = at(ref);
    return want === undefined ? [] : [{ sec: to - from, ref: want, est: at(est) ?? "N.C." }];
  });
}

/** Weighted chord symbol recall over time: `majmin` as mir_eval.chord (basses left out, chords that are neither are not
 * counted), `root`, and `bass`: the share of time in which the named lowest note is right. 0…1 each. */
export function scoreChords(
  ref: readonly TimedChord[],
  est: readonly TimedChord[],
): { majmin: number; root: number; bass: number } {
  const sums = { majmin: 0, root: 0, bass: 0 };
  let counted = 0;
  let total = 0;
  for (const segment of segments(ref, est)) {
    const a = triadOf(segment.ref);
    const b = triadOf(segment.est);
    total += segment.sec;
    if (a.rootPc === b.rootPc) sums.root += segment.sec;
    if (bassPc(segment.ref) === bassPc(segment.est)) sums.bass += segment.sec;
    if (a.kind === "other") continue;
    counted += segment.sec;
    if (a.kind === b.kind && a.rootPc === b.rootPc) sums.majmin += segment.sec;
  }
  const share = (sum: number, of: number): number => (of === 0 ? 0 : sum / of);
  return {
    majmin: share(sums.majmin, counted),
    root: share(sums.root, total),
    bass: share(sums.bass, total),
  };
}

const bassPc = (symbol: string): number => (symbol === "N.C." ? -1 : pitchClassOf(readSymbol(symbol).bass));
