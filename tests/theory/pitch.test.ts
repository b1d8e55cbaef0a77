import { Note } from "tonal";
import { expect, test } from "vitest";
import {
  fifthsOfName,
  hzToMidi,
  midiToHz,
  nameOfFifths,
  noteName,
  parseNote,
  pitchClassName,
  pitchClassOf,
} from "../../src/theory/pitch.js";

for (const [midi, hz, source] of [
  [69, 440, "ISO 16:1975"],
  [60, 261.6256, "440 · 2^(-9/12), by hand"],
  [40, 82.4069, "440 · 2^(-29/12), by hand"],
  [69.5, 452.893, "a quarter tone over A4, 440 · 2^(1/24), by hand"],
] as const)
  test(`theory pitch: midiToHz(${midi}) and back (${source})`, () => {
    expect(midiToHz(midi)).toBeCloseTo(hz, 3);
    expect(hzToMidi(hz)).toBeCloseTo(midi, 4);
  });

test("theory pitch: every MIDI note has the frequency and the name that tonal 6.4.3 gives", () => {
  for (let midi = 21; midi <= 108; midi++) {
    expect(midiToHz(midi)).toBeCloseTo(Note.freq(Note.fromMidi(midi)) as number, 6);
    expect(noteName(midi, "flats")).toBe(Note.fromMidi(midi));
    expect(noteName(midi, "sharps")).toBe(Note.fromMidiSharps(midi));
    expect(parseNote(noteName(midi))).toBe(midi);
  }
});

test("theory pitch: spelled names have tonal's pitch classes, double signs too", () => {
  for (const letter of "CDEFGAB")
    for (const sign of ["", "#", "b", "##", "bb"]) {
      const name = letter + sign;
      expect(pitchClassOf(name)).toBe(Note.chroma(name));
      expect(nameOfFifths(fifthsOfName(name) as number)).toBe(name);
    }
  expect(pitchClassOf("H")).toBeUndefined();
  expect(pitchClassOf("")).toBeUndefined();
});

test("theory pitch: octave numbers follow the letter, not the sound (Cb4 = 59, B#3 = 60; scientific pitch notation)", () => {
  expect(parseNote("Cb4")).toBe(59);
  expect(parseNote("B#3")).toBe(60);
  expect(parseNote("E")).toBeUndefined();
});

test("theory pitch: with no key the commoner black-key names are used (common practice, no published source)", () => {
  expect([1, 3, 6, 8, 10].map((pc) => pitchClassName(pc))).toEqual(["C#", "Eb", "F#", "Ab", "Bb"]);
});
