import { Key, Mode, Note } from "tonal";
import { expect, test } from "vitest";
import { MODE_DEGREES } from "../../src/export/mode-degree-table.js";
import { fifthsOfName, nameOfFifths, signatureFifths, spellPitch } from "../../src/export/spelling.js";
import { degreeNote } from "../../src/export/why-text.js";

const TONICS = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"];

test("spelling: signatures of major and minor keys (tonal 6.4.3, Key)", () => {
  for (const tonic of TONICS) {
    expect(signatureFifths(tonic, "ionian"), tonic).toBe(Key.majorKey(tonic).alteration);
    const minor = Key.minorKey(tonic).alteration;
    if (Math.abs(minor) <= 7) expect(signatureFifths(tonic, "aeolian"), tonic).toBe(minor);
  }
});

test("spelling: every scale note of every major key is spelled as the key has it, in its octave (tonal 6.4.3)", () => {
  for (const tonic of TONICS)
    for (const name of Key.majorKey(tonic).scale) {
      for (const octave of [2, 3, 4]) {
        const midi = Note.midi(`${name}${octave}`) ?? 0;
        const got = spellPitch(midi, signatureFifths(tonic, "ionian"));
        expect(
          `${got.step}${got.alter > 0 ? "#".repeat(got.alter) : "b".repeat(-got.alter)}${got.octave}`,
        ).toBe(`${name}${octave}`);
      }
    }
});

test("spelling: the line of fifths runs both ways (by hand)", () => {
  for (const [name, fifths] of [
    ["F", -1],
    ["C", 0],
    ["B", 5],
    ["F#", 6],
    ["Bb", -2],
    ["Gb", -6],
    ["Cb", -7],
  ] as const) {
    expect(fifthsOfName(name)).toBe(fifths);
    const { step, alter } = nameOfFifths(fifths);
    expect(step + (alter > 0 ? "#" : alter < 0 ? "b" : "")).toBe(name);
  }
  expect(fifthsOfName("H")).toBeUndefined();
});

test("mode-degree-table: the seven church modes spell the same notes as tonal 6.4.3, Mode.notes", () => {
  for (const row of MODE_DEGREES) {
    expect(row.degrees.length).toBe(7);
    for (const [semitones, degree] of row.degrees)
      expect((Note.midi(`${degreeNote("C", degree)}4`) ?? 0) % 12, `${row.mode} ${degree}`).toBe(semitones);
    if (/minor/.test(row.mode)) continue;
    for (const tonic of ["C", "A", "Eb", "F#"])
      expect(
        row.degrees.map(([, degree]) => degreeNote(tonic, degree)),
        `${tonic} ${row.mode}`,
      ).toEqual(Mode.notes(row.mode, tonic));
  }
});
