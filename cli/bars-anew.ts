/** What a sheet says of its bars, found anew after its grid was moved. */
import { groupBars } from "../src/grid/repeats.js";
import { findForm } from "../src/sheet/form.js";
import { findPattern } from "../src/sheet/pattern.js";
import type { Sheet } from "../src/sheet/sheet.js";

/** @returns the sheet with bars that are the same music, form and pattern, where moving the grid has dropped them; else the sheet itself */
export function withBarsAnew(sheet: Sheet): Sheet {
  if (sheet.groupOfBar.length === sheet.grid.barCount) return sheet;
  const notes = sheet.notes.map((n) => ({
    ...n,
    onsetSec: n.onsetSec ?? 0,
    offsetSec: n.offsetSec ?? 0,
    velocity: n.velocity ?? 0.6,
  }));
  const { groupOfBar } = groupBars(notes, sheet.grid);
  const pattern = findPattern(sheet.notes, sheet.grid);
  const form = sheet.form.length > 0 ? sheet.form : findForm(groupOfBar).form;
  return { ...sheet, groupOfBar, form, ...(pattern ? { pattern } : {}) };
}
