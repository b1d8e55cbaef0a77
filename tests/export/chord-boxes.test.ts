import { expect, test } from "vitest";
import { boxHeightPt, playedGrips } from "../../src/export/chord-boxes.js";
import type { Sheet, SheetNote } from "../../src/sheet/sheet.js";
import { studyNamed } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";

// Worked by hand. That a hand covers some four or five frets in one position is common practice, no published source.
const sheet = toSheet(studyNamed("mixolydian-over-a"));

/** One bar of `symbol`, its notes as string, fret, ticks. */
function bar(symbol: string, notes: readonly (readonly [number, number, number])[]): Sheet {
  const [first] = sheet.notes;
  const [chord] = sheet.chords;
  if (!first || !chord) throw new Error("the study holds nothing");
  return {
    ...sheet,
    chords: [{ ...chord, symbol, bar: 1, beat: 1 }],
    notes: notes.map(([string, fret, lengthTicks], k): SheetNote => {
      const midi = (sheet.openMidi[6 - string] ?? 0) + fret;
      return {
        ...first,
        bar: 1,
        tick: 12 * k,
        string,
        fret,
        lengthTicks,
        midi,
        leftFinger: fret > 0 ? 1 : 0,
      };
    }),
  };
}

const places = (of: Sheet): string[] =>
  playedGrips(of).map((g) => [...g.places].map(([s, p]) => `${s}:${p.fret}`).join(" "));

test("chord box: a melody that leaves the position is not of the grip", () => {
  const am = bar("Am", [
    [5, 0, 96],
    [4, 2, 84],
    [3, 2, 72],
    [2, 1, 60],
    [1, 8, 12],
  ]);
  expect(places(am)).toEqual(["5:0 4:2 3:2 2:1"]);
  const high = bar("C/E", [
    [6, 0, 72],
    [1, 12, 12],
    [2, 8, 48],
    [3, 9, 48],
  ]);
  expect(places(high)).toEqual(["6:0 3:9 2:8 1:12"]); // five frets, 8 to 12
  expect(boxHeightPt(playedGrips(high)[0] as never)).toBeGreaterThan(
    boxHeightPt(playedGrips(am)[0] as never),
  );
});

test("chord box: two strings are a grip of a fifth, and of nothing else", () => {
  const two = [
    [5, 0, 48],
    [4, 2, 48],
  ] as const;
  expect(places(bar("A5", two))).toEqual(["5:0 4:2"]);
  expect(places(bar("A", two))).toEqual([]);
});
