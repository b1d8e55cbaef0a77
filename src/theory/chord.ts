/** Chord symbols: read, written, compared, and put in Harte's syntax. In and out: text and plain records.
 * A slash names the lowest note; "6/9" is a quality, so a slash counts only before a note name. */
import { mod } from "../base/numbers.js";
import { CHORDS, type ChordRow } from "./chord-table.js";
import { fifthsOfName, pitchClassOf } from "./pitch.js";

/** A chord by its parts; `bass` equals `root` when there is no slash. Names are spelled with # and b. */
export type ChordParts = { root: string; quality: string; bass: string };

export const NO_CHORD = "N.C.";

// Other ways of writing a quality → the suffix of our table. Common practice, no published source.
const SAME: Readonly<Record<string, string>> = {
  M: "",
  maj: "",
  min: "m",
  "-": "m",
  M7: "maj7",
  Δ: "maj7",
  Δ7: "maj7",
  min7: "m7",
  "-7": "m7",
  mMaj7: "mmaj7",
  "m(maj7)": "mmaj7",
  mM7: "mmaj7",
  sus: "sus4",
  "7sus": "7sus4",
  "6/9": "69",
  "°": "dim",
  o: "dim",
  "°7": "dim7",
  o7: "dim7",
  ø: "m7b5",
  ø7: "m7b5",
  "+": "aug",
  aug7: "7#5",
  "+7": "7#5",
  add2: "add9",
  "(add9)": "add9",
  "m(add9)": "madd9",
  "9sus": "9sus4",
  "11": "9sus4",
};

/** Reads "G/A", "F#m7b5", "B♭maj7/D". The quality is that of our table where it is known, else as written.
 * @returns undefined for "N.C." and for text that is no chord symbol */
export function parseChordSymbol(text: string): ChordParts | undefined {
  const plain = text.trim().replaceAll("♯", "#").replaceAll("♭", "b");
  const match = /^([A-G](?:##|bb|#|b)?)(.*?)(?:\/([A-G](?:##|bb|#|b)?))?$/.exec(plain);
  if (!match) return undefined;
  const root = match[1] ?? "C";
  const written = match[2] ?? "";
  const quality = SAME[written] ?? written;
  if (
    quality !== "" &&
    !CHORDS.some((r) => r.suffix === quality) &&
    !/^[-+°øΔmMadgsuijb#()0-9,/]+$/.test(quality)
  )
    return undefined;
  return { root, quality, bass: match[3] ?? root };
}

/** The symbol as printed: slash only when the bass is another note. */
export const chordSymbol = (chord: ChordParts): string =>
  chord.root +
  chord.quality +
  (pitchClassOf(chord.bass) === pitchClassOf(chord.root) ? "" : `/${chord.bass}`);

/** The table row of a quality; undefined for qualities that are only passed through. */
export const chordRow = (quality: string): ChordRow | undefined =>
  CHORDS.find((r) => r.suffix === (SAME[quality] ?? quality));

/** Pitch classes of a chord, bass first, then root, then as the table has them; empty for unknown text. */
export function chordPitchClasses(symbol: string): number[] {
  const parts = parseChordSymbol(symbol);
  const row = parts && chordRow(parts.quality);
  if (!parts || !row) return [];
  const root = pitchClassOf(parts.root) ?? 0;
  return [...new Set([pitchClassOf(parts.bass) ?? root, ...row.steps.map((s) => mod(root + s, 12))])];
}

// Degrees of Harte's bass by semitones over the root.
const HARTE_BASS = ["1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7"] as const;
// The interval's name must keep the bass's letter: Db over C is b2, C# over C is #1.
const DEGREE_OF_FIFTHS: Readonly<Record<number, string>> = {
  0: "1",
  1: "5",
  2: "2",
  3: "6",
  4: "3",
  5: "7",
  6: "#4",
  7: "#1",
  8: "#5",
  9: "#2",
  10: "#6",
  [-1]: "4",
  [-2]: "b7",
  [-3]: "b3",
  [-4]: "b6",
  [-5]: "b2",
  [-6]: "b5",
  [-7]: "b1",
  [-8]: "b4",
};

/** Harte's syntax: "G/A" → "G:maj/2", "N.C." → "N"; what the table does not know → "X".
 * Source: Harte, Sandler, Abdallah & Gómez 2005, ISMIR; as mir_eval.chord reads it. */
export function toHarte(symbol: string): string {
  if (symbol === NO_CHORD) return "N";
  const parts = parseChordSymbol(symbol);
  const row = parts && chordRow(parts.quality);
  if (!parts || !row) return "X";
  const head = `${parts.root}:${row.harte}`;
  if (parts.bass === parts.root) return head;
  const apart = (fifthsOfName(parts.bass) ?? 0) - (fifthsOfName(parts.root) ?? 0);
  const step = mod(apart * 7, 12);
  return `${head}/${DEGREE_OF_FIFTHS[apart] ?? HARTE_BASS[step] ?? "1"}`;
}

/** The triad mir_eval's majmin comparison sees: root pitch class and family; undefined for no chord. */
export function triadOf(symbol: string): { rootPc: number; family: ChordRow["family"] } | undefined {
  const parts = parseChordSymbol(symbol);
  const row = parts && chordRow(parts.quality);
  if (!parts || !row) return undefined;
  return { rootPc: pitchClassOf(parts.root) ?? 0, family: row.family };
}
