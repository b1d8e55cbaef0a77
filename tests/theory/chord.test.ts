import { spawnSync } from "node:child_process";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { Chord, Note } from "tonal";
import { expect, test } from "vitest";
import {
  chordPitchClasses,
  chordRow,
  chordSymbol,
  parseChordSymbol,
  toHarte,
  triadOf,
} from "../../src/theory/chord.js";
import { CHORDS } from "../../src/theory/chord-table.js";
import { hasPython, ROOT, testNeeding } from "../helpers/needs.js";

// Suffixes that tonal 6.4.3 knows under another name.
const TONAL: Record<string, string> = { "": "M", mmaj7: "mMaj7", "69": "6add9", add9: "Madd9" };

for (const row of CHORDS)
  test(`theory chord: "${row.suffix}" has the notes tonal gives it`, () => {
    const chord = Chord.get(`C${TONAL[row.suffix] ?? row.suffix}`);
    expect(chord.empty).toBe(false);
    expect([...row.steps].sort((a, b) => a - b)).toEqual(
      chord.notes.map((n) => Note.chroma(n) as number).sort((a, b) => a - b),
    );
  });

// chords-db 0.5.1 names of our suffixes; its shapes on C (the C sharp augmented ones are known to be wrong).
const DB: Record<string, string> = {
  "": "major",
  m: "minor",
  "7": "7",
  maj7: "maj7",
  m7: "m7",
  mmaj7: "mmaj7",
  sus4: "sus4",
  sus2: "sus2",
  "7sus4": "7sus4",
  "6": "6",
  m6: "m6",
  add9: "add9",
  madd9: "madd9",
  "9": "9",
  maj9: "maj9",
  m9: "m9",
  "69": "69",
  dim: "dim",
  dim7: "dim7",
  m7b5: "m7b5",
  aug: "aug",
  "7b9": "7b9",
};
type Db = { chords: Record<string, { suffix: string; positions: { midi: number[] }[] }[]> };
const db = JSON.parse(
  readFileSync(join(ROOT, "node_modules/@tombatossals/chords-db/lib/guitar.json"), "utf8"),
) as Db;

for (const [suffix, name] of Object.entries(DB))
  test(`theory chord: the shapes of C${suffix} in chords-db hold no note but ours`, () => {
    const entry = db.chords.C?.find((c) => c.suffix === name);
    const steps = chordRow(suffix)?.steps ?? [];
    expect(entry?.positions.length).toBeGreaterThan(0);
    const pure = entry?.positions.filter((p) => p.midi.every((m) => steps.includes(m % 12))) ?? [];
    expect(pure.length / (entry?.positions.length ?? 0)).toBeGreaterThanOrEqual(0.75);
    expect(new Set(pure.flatMap((p) => p.midi.map((m) => m % 12))).size).toBe(steps.length);
  });

test("theory chord: symbols are read and written back", () => {
  for (const text of ["G/A", "Dm/E", "F#m7b5", "Bbmaj7/D", "C69", "C69/G", "A5", "Esus4", "Cadd9"]) {
    const parts = parseChordSymbol(text);
    expect(parts && chordSymbol(parts)).toBe(text);
  }
  expect(parseChordSymbol("G/A")).toEqual({ root: "G", quality: "", bass: "A" });
  expect(parseChordSymbol("B♭maj7")).toEqual({ root: "Bb", quality: "maj7", bass: "Bb" });
  expect(parseChordSymbol("Amin7")?.quality).toBe("m7");
  expect(parseChordSymbol("N.C.")).toBeUndefined();
  expect(parseChordSymbol("Hm")).toBeUndefined();
  expect(parseChordSymbol("Coda")).toBeUndefined();
});

test("theory chord: a triad over another bass holds the triad and the bass (common practice)", () => {
  expect(chordPitchClasses("G/A")).toEqual([9, 7, 11, 2]);
  expect(triadOf("Dm/E")).toEqual({ rootPc: 2, family: "min" });
});

// Harte, Sandler, Abdallah & Gómez 2005, ISMIR: root:shorthand(degrees)/bass.
for (const [symbol, harte] of [
  ["G/A", "G:maj/2"],
  ["Dm/E", "D:min/2"],
  ["D/F#", "D:maj/3"],
  ["Am7", "A:min7"],
  ["Cadd9", "C:maj(9)"],
  ["A7sus4", "A:sus4(b7)"],
  ["N.C.", "N"],
] as const)
  test(`theory chord: ${symbol} is ${harte} in Harte's syntax`, () => expect(toHarte(symbol)).toBe(harte));

testNeeding(
  hasPython("mir_eval"),
  "Debian python3-mir-eval",
  "theory chord: mir_eval reads every Harte name as our notes and our family",
  () => {
    const basses = ["", "/A", "/E", "/F#", "/Bb"];
    const symbols = CHORDS.flatMap((row) => basses.map((b) => `D${row.suffix}${b}`));
    const code = `
import json,sys,numpy as np,mir_eval
out=[]
for h in json.load(sys.stdin):
    root,bits,bass=mir_eval.chord.encode(h,reduce_extended_chords=True)
    h=h.split('/')[0] # with a bass mir_eval counts the bass among the notes, and a triad over it is no triad
    fam={True:'maj'}.get(bool(mir_eval.chord.majmin([h],['D:maj'])[0]==1)) or ('min' if mir_eval.chord.majmin([h],['D:min'])[0]==1 else 'other')
    out.append([int(root),[int(i) for i in np.flatnonzero(bits)],int(bass),fam])
print(json.dumps(out))`;
    const run = spawnSync("/usr/bin/python3", ["-W", "ignore", "-c", code], {
      input: JSON.stringify(symbols.map(toHarte)),
      encoding: "utf8",
    });
    expect(run.stderr).toBe("");
    const read = JSON.parse(run.stdout) as [number, number[], number, string][];
    read.forEach(([root, bits, bass, family], k) => {
      const symbol = symbols[k] as string;
      const ours = new Set(chordPitchClasses(symbol).map((pc) => (pc - 2 + 12) % 12));
      // mir_eval adds the bass to the chord's notes, as we do.
      expect([symbol, root, [...ours].sort((a, b) => a - b)]).toEqual([
        symbol,
        2,
        [...new Set([...bits, bass])].sort((a, b) => a - b),
      ]);
      expect([symbol, family]).toEqual([symbol, triadOf(symbol)?.family]);
    });
  },
);
