import { expect, test } from "vitest";
import { likelyShifts, retunedFinding, retunedStrings, shiftFinding } from "../../src/check/transpose.js";
import { playTiny, risingBars, tinyListening, tinySheet } from "../helpers/check/tiny.js";

const sheet = tinySheet(risingBars(6));
const written = sheet.notes.map((n) => n.midi);

for (const shift of [-7, -2, 0, 3, 7, 12])
  test(`check/transpose: a recording ${shift} semitones away has that shift first, and 0 among the candidates`, () => {
    const played = playTiny(sheet, 1, 0.4).map((n) => ({
      ...n,
      midi: n.midi + shift - (shift === 12 ? 0 : 0),
    }));
    const shifts = likelyShifts(
      written,
      tinyListening(
        played.filter((n) => n.midi <= 90),
        12,
      ),
    );
    expect(shifts[0]).toBe(shift);
    expect(shifts).toContain(0);
  });

for (const [shift, capo, words] of [
  [2, 0, "capo at fret 2"],
  [2, 3, "capo at fret 5"],
  [-3, 3, "no capo"],
  [-2, 3, "capo at fret 1"],
  [-2, 0, "tuned down"],
  [12, 0, "an octave above"],
] as const)
  test(`check/transpose: ${shift} semitones with capo ${capo} is said as ${words} (a capo raises by a semitone a fret)`, () => {
    expect(shiftFinding(shift, { ...sheet, capo })?.message).toContain(words);
  });

test("check/transpose: no shift, no word", () => expect(shiftFinding(0, sheet)).toBeUndefined());

const low = (count: number) =>
  Array.from({ length: count }, (_, k) => ({ string: 6, midi: 40 + (k % 3), sec: 1 + k * 0.5 }));

test("check/transpose: a sixth string that sounds a tone lower throughout is drop D", () => {
  const notes = low(8);
  const found = retunedStrings(
    notes,
    tinyListening(
      notes.map((n) => ({ sec: n.sec, midi: n.midi - 2 })),
      8,
    ),
  );
  expect(found).toEqual([{ string: 6, semitones: -2 }]);
  expect(retunedFinding({ string: 6, semitones: -2 }, sheet).message).toContain("tuned to D");
});

test("check/transpose: three notes, or half of them, are not enough to call a string retuned", () => {
  const three = low(3);
  expect(
    retunedStrings(
      three,
      tinyListening(
        three.map((n) => ({ sec: n.sec, midi: n.midi - 2 })),
        8,
      ),
    ),
  ).toEqual([]);
  const half = low(8);
  const played = half.map((n, k) => ({ sec: n.sec, midi: n.midi - (k % 2) * 2 }));
  expect(retunedStrings(half, tinyListening(played, 8))).toEqual([]);
});
