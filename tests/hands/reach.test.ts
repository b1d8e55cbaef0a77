import { expect, test } from "vitest";
import { fretMm, neckMm, pairEffort } from "../../src/hands/reach.js";

const GUITAR = { openMidi: [40, 45, 50, 55, 59, 64], capo: 0, highestFret: 19, scaleLengthMm: 650 };

for (const [fret, mm, source] of [
  [0, 0, "the nut"],
  [12, 325, "the octave halves the string"],
  [24, 487.5, "two octaves quarter it"],
  [7, 650 / 3, "a fifth is close to two thirds of the string"],
] as const)
  test(`reach: fret ${fret} lies ${mm.toFixed(1)} mm from the nut: ${source}`, () => {
    expect(Math.abs(fretMm(fret, 650) - mm)).toBeLessThan(0.5);
  });

test("reach: the neck counts from the capo, entry 0 is a fret below it", () => {
  const mm = neckMm({ ...GUITAR, capo: 3 });
  expect(mm[1]).toBeCloseTo(fretMm(3, 650), 9);
  expect(mm[5]).toBeCloseTo(fretMm(7, 650), 9);
  expect(mm[0]).toBeCloseTo(fretMm(2, 650), 9);
});

const mm = neckMm(GUITAR);
const press = (finger: number, string: number, fret: number) => ({ finger, string, fret });

test("reach: one finger a fret costs nothing", () => {
  expect(pairEffort(press(1, 3, 5), press(4, 2, 8), mm)).toMatchObject({
    overMm: 0,
    underMm: 0,
    crossed: false,
  });
});

for (const [low, high, why] of [
  [press(1, 3, 5), press(2, 3, 4), "a higher finger behind a lower one"],
  [press(1, 6, 1), press(4, 1, 6), "154 mm between index and little finger"],
  [press(3, 2, 2), press(4, 3, 5), "three frets between ring and little finger"],
] as const)
  test(`reach: ${why} can't be held`, () => {
    expect(pairEffort(low, high, mm)).toBeUndefined();
  });

test("reach: the same at one fret with the lower finger on the higher string is crossed", () => {
  expect(pairEffort(press(2, 2, 3), press(3, 4, 3), mm)?.crossed).toBe(true);
  expect(pairEffort(press(3, 2, 3), press(2, 4, 3), mm)?.crossed).toBe(false);
});
