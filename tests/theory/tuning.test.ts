import { Note } from "tonal";
import { expect, test } from "vitest";
import { PulgarError } from "../../src/base/errors.js";
import { fretDistanceMm, parseTuning, tuningName } from "../../src/theory/tuning.js";
import { TUNINGS } from "../../src/theory/tuning-table.js";

// Notes written down again from common practice, read by tonal 6.4.3 and not by our own parser.
const NOTES: Record<string, string> = {
  standard: "E2 A2 D3 G3 B3 E4",
  "drop-d": "D2 A2 D3 G3 B3 E4",
  "double-drop-d": "D2 A2 D3 G3 B3 D4",
  dadgad: "D2 A2 D3 G3 A3 D4",
  "open-d": "D2 A2 D3 F#3 A3 D4",
  "open-d-minor": "D2 A2 D3 F3 A3 D4",
  "open-g": "D2 G2 D3 G3 B3 D4",
  "open-g-minor": "D2 G2 D3 G3 Bb3 D4",
  "open-c": "C2 G2 C3 G3 C4 E4",
  "open-e": "E2 B2 E3 G#3 B3 E4",
  "open-a": "E2 A2 E3 A3 C#4 E4",
  "drop-c": "C2 G2 C3 F3 A3 D4",
  "half-step-down": "Eb2 Ab2 Db3 Gb3 Bb3 Eb4",
  "whole-step-down": "D2 G2 C3 F3 A3 D4",
};

for (const tuning of TUNINGS)
  test(`theory tuning: ${tuning.name} has the notes common practice gives it`, () => {
    const notes = NOTES[tuning.name] as string;
    expect(tuning.openMidi).toEqual(notes.split(" ").map((n) => Note.midi(n)));
    expect(parseTuning(tuning.name).openMidi).toEqual(tuning.openMidi);
    expect(parseTuning(notes)).toEqual({ name: tuning.name, openMidi: [...tuning.openMidi] });
    for (const alias of tuning.aliases) expect(parseTuning(alias.toUpperCase()).name).toBe(tuning.name);
    expect(tuningName(tuning.openMidi)).toBe(tuning.name);
  });

test("theory tuning: every row has its own name and notes", () => {
  expect(new Set(TUNINGS.map((t) => t.openMidi.join())).size).toBe(TUNINGS.length);
  const names = TUNINGS.flatMap((t) => [t.name, ...t.aliases]);
  expect(new Set(names).size).toBe(names.length);
  expect(Object.keys(NOTES).length).toBe(TUNINGS.length);
});

const trouble = (text: string): PulgarError => {
  try {
    parseTuning(text);
  } catch (e) {
    if (e instanceof PulgarError) return e;
  }
  throw new Error(`no PulgarError for ${text}`);
};

for (const [text, words] of [
  ["dagdad", "Did you mean dadgad?"],
  ["standrad", "Did you mean standard?"],
  ["nonsense", "Names: standard"],
  ["E2 A2 D3 G3 B3", "string 6 first"],
  ["E4 B3 G3 D3 A2 E2", "string 6, the lowest, first"],
  ["E2 A2 D3 G3 B3 H4", "Bb3"],
  ["E5 A5 D6 G6 B6 E7", "Middle C is C4"],
] as const)
  test(`theory tuning: "${text}" is refused with the next step`, () => {
    const error = trouble(text);
    expect(error.code).toBe("bad-tuning");
    expect(error.hint).toContain(words);
  });

test("theory tuning: frets follow the 17.817 rule of guitar builders and halve the string at the twelfth", () => {
  let rest = 650;
  for (let fret = 1; fret <= 19; fret++) {
    rest -= rest / 17.817;
    expect(fretDistanceMm(650, fret)).toBeCloseTo(650 - rest, 1);
  }
  expect(fretDistanceMm(650, 12)).toBeCloseTo(325, 9);
  expect(fretDistanceMm(650, 0)).toBe(0);
});
