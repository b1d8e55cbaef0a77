import { expect, test } from "vitest";
import type { Grid, PlacedNote } from "../../src/grid/grid.js";
import { groupBars } from "../../src/grid/repeats.js";
import { studiesFrom } from "../bench/grid-takes.js";

// Bars of 4/4 in eighths, worked by hand.
const C = [48, 60, 64, 67, 52, 60, 64, 67];
const G = [43, 59, 62, 67, 50, 59, 62, 67];
const bar = (number: number, pitches: readonly number[]): PlacedNote[] =>
  pitches.flatMap((midi, k) =>
    midi === 0
      ? []
      : [
          {
            bar: number,
            tick: 12 * k,
            lengthTicks: 12,
            midi,
            onsetSec: 4 * number + k / 2,
            offsetSec: 4 * number + k / 2 + 0.5,
            confidence: 0.95,
            velocity: 0.5,
          },
        ],
  );
const groups = (...bars: (readonly number[])[]): string =>
  groupBars(
    bars.flatMap((pitches, k) => bar(k + 1, pitches)),
    { barCount: bars.length, meter: { beats: 4, unit: 4 } } as Grid,
  ).groupOfBar.join("");

test("repeats: the same bars share a group, another chord has its own", () =>
  expect(groups(C, C, G, C, G)).toBe("00101"));
test("repeats: a note unheard and a note too many leave a bar what it is", () =>
  expect(groups(C, [48, 60, 64, 0, 52, 60, 64, 67], [48, 60, 64, 67, 52, 60, 76, 67])).toBe("000"));
test("repeats: the same upper voices over another bass are other music", () =>
  expect(groups(C, [45, 60, 64, 67, 52, 60, 64, 67])).toBe("01"));
test("repeats: a varied ending over the same pitches, or with a walking bass, leaves a bar what it is", () => {
  expect(groups(C, [48, 60, 64, 67, 52, 0, 0, 0], G, C)).toBe("0010");
  expect(groups(C, [48, 60, 64, 67, 52, 60, 50, 47], G, C)).toBe("0010");
});
test("repeats: another chord in the second half is other music", () =>
  expect(groups(C, [48, 60, 64, 67, 50, 59, 62, 65], C)).toBe("010"));
test("repeats: one note otherwise is a slip once, and other music when it comes again and again", () => {
  const sus = [48, 60, 65, 67, 52, 60, 64, 67];
  expect(groups(C, C, sus, C, C)).toBe("00000");
  expect(groups(C, sus, C, sus, C, sus)).toBe("010101");
});
test("repeats: pairs of same bars are found with F1 of 0.95 in written-out studies whose whole truth is known", () => {
  let both = 0;
  let either = 0;
  for (const { study } of studiesFrom(9500, 60)) {
    const notes = study.notes.map(
      (n): PlacedNote => ({ ...n, onsetSec: 0, offsetSec: 1, confidence: 0.95, velocity: 0.5 }),
    );
    const { groupOfBar } = groupBars(notes, { barCount: study.barCount, meter: study.meter } as Grid);
    study.kinOfBar.forEach((kin, a) => {
      for (let b = 0; b < a; b++) {
        const [same, said] = [kin === study.kinOfBar[b], groupOfBar[a] === groupOfBar[b]];
        both += same && said ? 1 : 0;
        either += Number(same) + Number(said);
      }
    });
  }
  expect((2 * both) / either).toBeGreaterThanOrEqual(0.95);
});
test("repeats: empty bars are like each other only", () => expect(groups(C, [], C, [])).toBe("0101"));
