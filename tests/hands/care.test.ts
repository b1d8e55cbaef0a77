import { expect, test } from "vitest";
import { careFindings } from "../../src/hands/care.js";
import type { FrettedNote, Instrument, LeftFinger } from "../../src/hands/fretted.js";

const GUITAR: Instrument = {
  openMidi: [40, 45, 50, 55, 59, 64],
  capo: 0,
  highestFret: 19,
  scaleLengthMm: 650,
};

/** One grip a beat, each place as string, fret and left finger. */
function grips(
  rows: readonly (readonly (readonly [number, number, LeftFinger])[])[],
  beatSec = 0.5,
): FrettedNote[] {
  return rows.flatMap((places, beat) =>
    places.map(
      ([string, fret, leftFinger]): FrettedNote => ({
        onsetSec: beat * beatSec,
        offsetSec: (beat + 1) * beatSec,
        midi: (GUITAR.openMidi[6 - string] as number) + fret,
        confidence: 1,
        velocity: 0.5,
        bar: Math.floor(beat / 4) + 1,
        tick: (beat % 4) * 24,
        lengthTicks: 24,
        string,
        fret,
        finger: "p",
        leftFinger,
        by: "machine",
        placeConfidence: 1,
        alternatives: [],
      }),
    ),
  );
}

const C = [
  [5, 3, 3],
  [4, 2, 2],
  [2, 1, 1],
] as const;
const F = [
  [6, 1, 1],
  [5, 3, 3],
  [4, 3, 4],
  [3, 2, 2],
  [2, 1, 1],
  [1, 1, 1],
] as const;
const WIDE = [
  [6, 1, 1],
  [2, 5, 4],
] as const; // 127 mm at 650 mm, fret formula by hand
const rules = (notes: readonly FrettedNote[], instrument = GUITAR): string[] =>
  careFindings(notes, instrument).map((f) => f.rule);

test("care: an open C asks for no caution", () => {
  expect(rules(grips([C, C]))).toEqual([]);
});

test("care: five frets in first position span 127 mm, are named once, and the hint defers to teacher or clinician", () => {
  const found = careFindings(grips([C, WIDE, C, C, WIDE]), GUITAR);
  expect(found.map((f) => f.rule)).toEqual(["wide-stretch"]);
  expect(found[0]?.message).toContain("127 mm");
  expect(found[0]?.message).toContain("bars 1, 2");
  for (const word of ["capo", "Rest", "stop if it hurts", "teacher", "clinician"])
    expect(found[0]?.hint).toContain(word);
});

test("care: the same grip with a capo at 7 is short enough (95 mm shrink to 85)", () => {
  expect(rules(grips([WIDE]), { ...GUITAR, capo: 7 })).toEqual([]);
});

test("care: a grip for five fingers is named as one that a hand can't hold", () => {
  expect(
    rules(
      grips([
        [
          [6, 1, 1],
          [5, 3, 2],
          [4, 5, 3],
          [3, 7, 4],
        ],
      ]),
    ),
  ).toEqual(["hard-grip"]);
});

test("care: two pitches at once on one string", () => {
  expect(
    rules(
      grips([
        [
          [6, 0, 0],
          [6, 1, 1],
        ],
      ]),
    ),
  ).toEqual(["one-string"]);
});

for (const [beats, want] of [
  [30, []],
  [60, ["long-barre"]],
  [260, ["long-barre", "long-playing"]],
] as const)
  test(`care: a barre held for ${beats / 2} s gives ${want.join(" and ") || "nothing"}`, () => {
    expect(rules(grips(new Array(beats).fill(F)))).toEqual(want);
  });

test("care: a rest of two seconds lets the hand go", () => {
  const half = grips(new Array(30).fill(F));
  const later = half.map((n) => ({ ...n, onsetSec: n.onsetSec + 17, bar: n.bar + 9 }));
  expect(rules([...half, ...later])).toEqual([]);
});
