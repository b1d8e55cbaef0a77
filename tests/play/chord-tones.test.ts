import { Chord, Note } from "tonal";
import { expect, test } from "vitest";
import { chordTones, voicing } from "../../src/play/chord-tones.js";

for (const suffix of [
  "",
  "m",
  "7",
  "maj7",
  "m7",
  "dim",
  "dim7",
  "m7b5",
  "aug",
  "sus2",
  "sus4",
  "6",
  "m6",
  "9",
  "maj9",
  "m9",
  "5",
  "7sus4",
  "mMaj7",
])
  test(`chord-tones: "${suffix}" on every root has the notes of tonal 6.4.3's Chord.get`, () => {
    for (const root of ["C", "Db", "E", "F#", "A", "Bb"]) {
      const want = Chord.get(root + suffix).notes.map((n) => (Note.midi(`${n}4`) ?? 0) % 12);
      expect(want.length).toBeGreaterThan(1);
      expect([...chordTones(root + suffix)].sort(), root).toEqual([...want].sort());
      expect([...chordTones(`${root}${suffix}/C`)].sort()).toEqual([...want].sort());
    }
  });

test("chord-tones: added ninths are added, N.C. is nothing, voicings hold chord notes only and move little", () => {
  expect(chordTones("Cadd9")).toEqual([0, 2, 4, 7]);
  expect(chordTones("Cmaj13")).toEqual([0, 4, 7, 11]); // no row of the table: by its suffix
  expect(chordTones("C7b13")).toContain(10);
  expect(chordTones("N.C.")).toEqual([]);
  let previous: number[] = [];
  for (const symbol of ["A", "G/A", "D/A", "Em7", "F#m7b5", "B7", "Cmaj7", "Am"]) {
    const notes = voicing(symbol, previous);
    expect(notes.length).toBeGreaterThanOrEqual(3);
    for (const midi of notes) expect(chordTones(symbol)).toContain(midi % 12);
    const mean = (list: number[]): number => list.reduce((s, m) => s + m, 0) / list.length;
    if (previous.length > 0) expect(Math.abs(mean(notes) - mean(previous))).toBeLessThan(5);
    previous = notes;
  }
});
