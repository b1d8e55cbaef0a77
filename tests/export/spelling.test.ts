import { Key, Note, Scale } from "tonal";
import { expect, test } from "vitest";
import { MODE_RIVALS } from "../../src/export/mode-rival-table.js";
import { signatureFifths, spellPitch } from "../../src/export/spelling.js";

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

test("mode-rival-table: a mode and its neighbour differ in the deciding degree and no other (tonal 6.4.3, Scale)", () => {
  const intervals = (mode: string): string[] => Scale.get(`C ${mode}`).intervals;
  for (const [mode, { degree, neighbour }] of Object.entries(MODE_RIVALS)) {
    expect(intervals(mode), mode).toHaveLength(7);
    const other = intervals(neighbour);
    expect(intervals(mode).flatMap((own, k) => (own === other[k] ? [] : [k + 1]))).toEqual([degree]);
  }
});
