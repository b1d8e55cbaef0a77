import { expect, test } from "vitest";
import { beatsWithUnit } from "../../src/sheet/beats-text.js";
import { sheetFromText } from "../../src/sheet/parse.js";
import { sheetToText } from "../../src/sheet/text.js";
import { namedStudies } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";

// English: one is singular, and so is a part of one; 24 ticks a beat.
test.each([
  [24, "1 beat"],
  [12, "1/2 beat"],
  [36, "1+1/2 beats"],
  [72, "3 beats"],
])("sheet/beats-text: %i ticks are %s", (ticks, want) => expect(beatsWithUnit(ticks)).toBe(want));

test("sheet/header: a pick-up of one beat is written in the singular, and read in either", () => {
  const study = namedStudies().find((s) => s.pickupBeats === 1);
  if (study === undefined) throw new Error("no named study has a pick-up of one beat");
  const sheet = toSheet(study);
  const text = sheetToText(sheet);
  expect(text).toContain("\npick-up: 1 beat\n");
  const { sheet: read } = sheetFromText(text.replace("pick-up: 1 beat\n", "pick-up: 1 beats\n"));
  expect(read.grid.pickupBeats).toBe(1);
  expect(sheetToText(read)).toBe(text);
});
