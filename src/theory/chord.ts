/** Chord names: reading, writing, spelling, and Harte's syntax for scoring. */
import { mod } from "../base/numbers.js";
import { CHORD_QUALITIES, type ChordQuality } from "./chord-table.js";
import { pitchClassName, pitchClassOf } from "./pitch.js";

/** A chord as numbers: pitch classes of root and bass, and the row of the table. */
export type Chord = { rootPc: number; bassPc: number; quality: ChordQuality };

/** Name of no chord. */
export const NO_CHORD = "N.C.";

/** Other spellings of the same suffixes that people write. */
const SUFFIX_ALIASES: Readonly<Record<string, string>> = {
  M: "",
  maj: "",
  min: "m",
  "-": "m",
  M7: "maj7",
  Maj7: "maj7",
  Δ: "maj7",
  Δ7: "maj7",
  min7: "m7",
  "-7": "m7",
  "+": "aug",
  "°": "dim",
  o: "dim",
  "°7": "dim7",
  o7: "dim7",
  ø: "m7b5",
  ø7: "m7b5",
  "m7(b5)": "m7b5",
  sus: "sus4",
  "2": "add9",
  "(add9)": "add9",
  madd9: "m(add9)",
  mM7: "mMaj7",
  "m(maj7)": "mMaj7",
  min6: "m6",
  min9: "m9",
};

/** Reads `Dm7`, `G/A`, `F♯m7♭5`; undefined for what is no chord of the table, and for "N.C.". */
export function parseChordSymbol(text: string): Chord | undefined {
  const plain = text.trim().replaceAll("♯", "#").replaceAll("♭", "b");
  const match = /^([A-G][#b]?)(.*?)(?:\/([A-G][#b]?))?$/.exec(plain);
  const rootPc = pitchClassOf(match?.[1] ?? "");
  if (!match || rootPc === undefined) return undefined;
  const written = match[2] ?? "";
  const suffix = SUFFIX_ALIASES[written] ?? written;
  const quality = CHORD_QUALITIES.find((q) => q.suffix === suffix);
  const bassPc = match[3] === undefined ? rootPc : pitchClassOf(match[3]);
  return quality && bassPc !== undefined ? { rootPc, bassPc, quality } : undefined;
}

/** Writes a chord as printed. @param nameOf spelling of a pitch class; sharps by default */
export function chordSymbol(chord: Chord, nameOf: (pc: number) => string = pitchClassName): string {
  const bass = chord.bassPc === chord.rootPc ? "" : `/${nameOf(chord.bassPc)}`;
  return `${nameOf(chord.rootPc)}${chord.quality.suffix}${bass}`;
}

/** Pitch classes of a chord, root first; a foreign bass comes last. */
export function chordPitchClasses(chord: Chord): number[] {
  const pcs = chord.quality.degrees.map((d) => mod(chord.rootPc + d, 12));
  return pcs.includes(chord.bassPc) ? pcs : [...pcs, chord.bassPc];
}

const HARTE_DEGREES = ["1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7"] as const;

/** The chord in the syntax of Harte et al. 2005 (`D:min7`, `G:maj/2`), which mir_eval reads; "N" for none. */
export function harteOf(symbol: string): string {
  const chord = parseChordSymbol(symbol);
  if (!chord) return "N";
  const bass = chord.bassPc === chord.rootPc ? "" : `/${HARTE_DEGREES[mod(chord.bassPc - chord.rootPc, 12)]}`;
  return `${pitchClassName(chord.rootPc)}:${chord.quality.harte}${bass}`;
}
