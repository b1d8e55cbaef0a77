import fc from "fast-check";
import { expect, test } from "vitest";
import { sheetFromText } from "../../src/sheet/parse.js";
import { sheetToText } from "../../src/sheet/text.js";
import { anySheet } from "./any-sheet.js";

test("sheet/text: what is written is read back whole, and written again gives the same bytes", () => {
  fc.assert(
    fc.property(anySheet, (sheet) => {
      const text = sheetToText(sheet);
      const { sheet: read, findings } = sheetFromText(text);
      expect(findings).toEqual([]);
      expect(read).toEqual(sheet);
      expect(sheetToText(read)).toBe(text);
    }),
    { numRuns: 300, seed: 7 },
  );
});
