import { expect, test } from "vitest";
import { nameChords } from "../../src/harmony/chords.js";
import { findMode } from "../../src/harmony/mode.js";
import { ofTheTime } from "../../src/harmony/reasons.js";
import { spellHarmony } from "../../src/harmony/spell.js";
import { pitchClassOf } from "../../src/theory/pitch.js";
import { undecidedPairs } from "../helpers/takes/modes.js";
import { namedStudies, studyNamed } from "../helpers/takes/studies.js";
import { studyInput } from "./study-input.js";

const guess = (name: string) => {
  const { notes, grid } = studyInput(studyNamed(name));
  const chords = nameChords(notes, grid);
  return { mode: findMode({ notes, chords, grid }), chords };
};

for (const study of namedStudies())
  test(`harmony mode: ${study.name} is in ${study.mode.tonic} ${study.mode.mode} (composed so), and what is open is said`, () => {
    const { mode } = guess(study.name);
    expect(pitchClassOf(mode.tonic)).toBe(pitchClassOf(study.mode.tonic));
    const truth = study.mode.undecided.map((u) => [...u.between].sort().join(" "));
    const found = mode.undecided.map((u) => [...u.between].sort().join(" "));
    if (truth.length === 0) {
      expect(mode.mode).toBe(study.mode.mode);
      expect(found).toEqual([]);
    } else {
      expect(found.some((pair) => truth.includes(pair))).toBe(true);
      expect(new Set(study.mode.undecided.flatMap((u) => u.between)).has(mode.mode)).toBe(true);
    }
    const sum = mode.candidates.reduce((total, c) => total + c.probability, 0);
    expect(sum).toBeGreaterThan(0.85);
    expect(sum).toBeLessThanOrEqual(1 + 1e-9);
    expect(mode.confidence).toBe(mode.candidates[0]?.probability);
  });

test("harmony mode: mixolydian over a held A names the bass, the chord that brings G, and the parent scale (facts of the trade)", () => {
  const { mode } = guess("mixolydian-over-a");
  expect(mode.parentScale).toBe("D major");
  expect(mode.evidence[0]).toMatch(/bass holds A/);
  expect(mode.evidence.some((s) => /brings? G, the flat seventh, where plain major has G#/.test(s))).toBe(
    true,
  );
  expect(mode.improvise[0]).toBe("A mixolydian");
});

test("harmony mode: with the deciding sixth taken out, dorian and aeolian stay open and the degree is named", () => {
  // A dorian study without its F#: what is left is A minor with neither F nor F# (checked by the definition).
  const dorian = namedStudies().find((s) => s.mode.mode === "dorian" && s.mode.undecided.length === 0);
  expect(dorian).toBeDefined();
  if (!dorian) return;
  const { notes, grid } = studyInput(dorian);
  const tonic = pitchClassOf(dorian.mode.tonic) as number;
  const kept = notes.filter((n) => n.midi % 12 !== (tonic + 9) % 12 && n.midi % 12 !== (tonic + 8) % 12);
  expect(
    undecidedPairs(dorian.mode.tonic, "dorian", new Set(kept.map((n) => n.midi % 12))).length,
  ).toBeGreaterThan(0);
  const chords = nameChords(kept, grid);
  const mode = findMode({ notes: kept, chords, grid });
  const open = mode.undecided.find((u) => u.between.includes("dorian") && u.between.includes("aeolian"));
  expect(open?.missingDegree).toMatch(/6$/);
  expect(mode.confidence).toBeLessThan(0.9);
});

test("harmony mode: no notes give a guess with next to no confidence and no reasons that are not so", () => {
  const { grid } = studyInput(studyNamed("mixolydian-over-a"));
  const mode = findMode({ notes: [], chords: [], grid });
  expect(mode.confidence).toBeLessThan(0.1);
  expect(mode.evidence.every((s) => /Not decided|notes are those of/.test(s))).toBe(true);
});

test("harmony mode: the same notes give the same guess, whatever their order", () => {
  const { notes, grid } = studyInput(studyNamed("rain-on-slate"));
  const a = findMode({ notes, chords: nameChords(notes, grid), grid });
  const turned = [...notes].reverse();
  const b = findMode({ notes: turned, chords: nameChords(turned, grid), grid });
  expect(b.mode).toBe(a.mode);
  expect(b.evidence).toEqual(a.evidence);
  expect(b.confidence).toBeCloseTo(a.confidence, 9);
});

test("harmony spell: chords are spelled by the key: flats in F aeolian, sharps in E (circle of fifths)", () => {
  const chord = (symbol: string, root: string, bass = root) => ({
    startSec: 0,
    endSec: 1,
    bar: 1,
    beat: 1,
    symbol,
    root,
    bass,
    confidence: 1,
    alternatives: [symbol],
  });
  const flat = spellHarmony([chord("C#/Ab", "C#", "Ab"), chord("F#m7", "F#")], {
    tonic: "F",
    mode: "aeolian",
  });
  expect(flat.map((c) => c.symbol)).toEqual(["Db/Ab", "Gbm7"]);
  expect(flat[0]).toMatchObject({ root: "Db", bass: "Ab", alternatives: ["Db/Ab"] });
  const sharp = spellHarmony([chord("Abm", "Ab"), chord("N.C.", "")], { tonic: "E", mode: "ionian" });
  expect(sharp.map((c) => c.symbol)).toEqual(["G#m", "N.C."]);
});

test("harmony mode: where the sixth is open, the scale that fits both modes comes first and no parent scale is claimed (by hand)", () => {
  const { mode } = guess("half-open-door");
  expect(mode.undecided.length).toBeGreaterThan(0);
  expect(mode.improvise).toEqual(["A minor pentatonic", "A aeolian", "A dorian"]);
  expect(mode.evidence.some((s) => s.startsWith("The notes are those of"))).toBe(false);
  expect(mode.evidence).toContain(
    "Not decided between A aeolian and A dorian: the sixth would decide, and neither F nor F# clearly sounds.",
  );
});

// Shares as words, by hand.
for (const [share, words] of [
  [1, "all the time"],
  [0.7, "most of the time"],
  [0.5, "about half of the time"],
  [0.33, "about a third of the time"],
  [0.25, "about a quarter of the time"],
] as const)
  test(`harmony reasons: a share of ${share} is said as "${words}"`, () =>
    expect(ofTheTime(share)).toBe(words));
