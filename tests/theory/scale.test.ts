import * as data from "@musodojo/music-theory-data";
import { Mode, Note, Scale } from "tonal";
import { expect, test } from "vitest";
import { pitchClassOf } from "../../src/theory/pitch.js";
import {
  degreeNote,
  differsFromPlain,
  modeMask,
  modeSteps,
  noteInKey,
  parentScale,
  scaleNotes,
  signatureFifths,
  spellInKey,
  spellTonic,
} from "../../src/theory/scale.js";
import { MODES, PENTATONICS, stepOfDegree } from "../../src/theory/scale-table.js";

type Collection = { integers: readonly number[]; names?: readonly string[]; primaryName?: string };
const collections = Object.values(data).flatMap((v) =>
  typeof v === "object" && v !== null && "integers" in v ? [v as Collection] : [],
);
const nested = Object.values(data.noteCollections ?? {}) as Collection[];
const named = (name: string): Collection | undefined =>
  [...collections, ...nested].find(
    (c) => c.primaryName?.toLowerCase() === name || c.names?.some((n) => n.toLowerCase() === name),
  );

for (const row of MODES) {
  test(`theory scale: ${row.mode} has tonal's intervals`, () => {
    expect(modeSteps(row.mode)).toEqual(Scale.get(`C ${row.mode}`).intervals.map((i) => SEMITONES[i]));
  });
  test(`theory scale: ${row.mode} has the steps of @musodojo/music-theory-data`, () => {
    expect(named(row.mode)?.integers).toEqual(modeSteps(row.mode));
  });
  test(`theory scale: ${row.mode} is spelled on ten tonics as tonal spells it`, () => {
    for (const tonic of ["C", "G", "D", "A", "E", "B", "F#", "F", "Bb", "Eb"])
      expect(scaleNotes(tonic, row.mode)).toEqual(Scale.get(`${tonic} ${row.mode}`).notes);
  });
}

const SEMITONES: Record<string, number> = {
  "1P": 0,
  "2m": 1,
  "2M": 2,
  "3m": 3,
  "3M": 4,
  "4P": 5,
  "4A": 6,
  "5d": 6,
  "5P": 7,
  "6m": 8,
  "6M": 9,
  "7m": 10,
  "7M": 11,
};

test("theory scale: pentatonics and blues have tonal's steps", () => {
  for (const { name, steps } of PENTATONICS)
    expect(steps).toEqual(
      Scale.get(`C ${name === "blues" ? "minor blues" : name}`).intervals.map((i) => SEMITONES[i]),
    );
});

test("theory scale: a mode shares its notes with its parent major scale (tonal's Mode.relativeTonic)", () => {
  for (const mode of ["dorian", "phrygian", "lydian", "mixolydian", "aeolian", "locrian"] as const)
    for (const tonic of ["C", "D", "E", "F", "G", "A", "B"]) {
      const parent = Mode.relativeTonic("ionian", mode, tonic);
      expect(parentScale(tonic, mode)).toBe(`${parent} major`);
      expect([...scaleNotes(tonic, mode)].sort()).toEqual([...Scale.get(`${parent} major`).notes].sort());
    }
});

for (const [tonic, mode, signs] of [
  ["A", "mixolydian", 2],
  ["D", "dorian", 0],
  ["F", "aeolian", -4],
  ["E", "phrygian", 0],
  ["A", "harmonic minor", 0],
] as const)
  test(`theory scale: ${tonic} ${mode} is written with ${signs} signs (circle of fifths, handbook fact)`, () =>
    expect(signatureFifths(tonic, mode)).toBe(signs));

for (const [pc, mode, name] of [
  [1, "dorian", "C#"],
  [8, "mixolydian", "Ab"],
  [10, "ionian", "Bb"],
  [6, "aeolian", "F#"],
  [3, "ionian", "Eb"],
  [8, "aeolian", "G#"],
  [1, "ionian", "Db"],
] as const)
  test(`theory scale: the tonic ${name} of ${mode} has the signature of fewer signs (by hand)`, () =>
    expect(spellTonic(pc, mode)).toBe(name));

test("theory scale: degrees are spelled by letter (by hand)", () => {
  expect(degreeNote("A", "b7")).toBe("G");
  expect(degreeNote("F", "#4")).toBe("B");
  expect(degreeNote("Eb", "b3")).toBe("Gb");
  expect(stepOfDegree("b7")).toBe(10);
  expect(stepOfDegree("#4")).toBe(6);
  expect(spellInKey(8, "A", "harmonic minor")).toBe("G#");
  expect(spellInKey(3, "G", "aeolian")).toBe("Eb");
});

test("theory scale: notes of a scale are named in its key, in their octave (tonal 6.4.3, Scale and Note)", () => {
  for (const [tonic, mode] of [
    ["E", "ionian"],
    ["C", "aeolian"],
    ["F#", "ionian"], // E#
    ["Gb", "ionian"], // Cb, which lies an octave's number above its sound
    ["A", "mixolydian"],
  ] as const)
    for (const name of Scale.get(`${tonic} ${mode}`).notes)
      for (const octave of [2, 3, 4]) {
        const midi = Note.midi(`${name}${octave}`) ?? 0;
        expect(noteInKey(midi, { tonic, mode }), `${tonic} ${mode}`).toBe(`${name}${octave}`);
      }
  expect(noteInKey(68, undefined)).toBe("Ab4"); // the commoner name where no key is known
});

test("theory scale: mixolydian is major with a lowered seventh, dorian minor with a raised sixth (facts of the trade)", () => {
  expect(differsFromPlain("mixolydian")).toEqual([["b7", "7"]]);
  expect(differsFromPlain("dorian")).toEqual([["6", "b6"]]);
  expect(differsFromPlain("phrygian")).toEqual([["b2", "2"]]);
  expect(differsFromPlain("lydian")).toEqual([["#4", "4"]]);
  expect(differsFromPlain("aeolian")).toEqual([]);
  expect(modeMask(9, "mixolydian").flatMap((x, pc) => (x ? [pc] : []))).toEqual([1, 2, 4, 6, 7, 9, 11]);
});

test("theory scale: every tonic in every mode is a name of the contract: no Cb, Fb, E# or B#", () => {
  const known = [
    "C",
    "C#",
    "Db",
    "D",
    "D#",
    "Eb",
    "E",
    "F",
    "F#",
    "Gb",
    "G",
    "G#",
    "Ab",
    "A",
    "A#",
    "Bb",
    "B",
  ];
  for (const { mode } of MODES)
    for (let pc = 0; pc < 12; pc++) {
      const name = spellTonic(pc, mode);
      expect(known).toContain(name);
      expect(pitchClassOf(name)).toBe(pc);
    }
  expect(spellTonic(11, "lydian")).toBe("B");
});
