/** The same edit for the bars that are the same music.
 * In: the sheet before the edit, the edit. Out: one edit for every bar of the group that stands as the edited bar stood; bars that a hand has settled there are left alone. */
import { isGrace } from "./bar-time.js";
import { type Edit, findNote, type NoteRef } from "./edit.js";
import type { Sheet } from "./sheet.js";

/** Edits for the siblings of an edit's bar, by bar; [] where there are none or the edit is not of one bar. */
export function siblingEdits(sheet: Sheet, edit: Edit): Edit[] {
  const bar =
    "at" in edit ? edit.at.bar : edit.kind === "add-note" ? edit.note.bar : "bar" in edit ? edit.bar : 0;
  const group = sheet.groupOfBar[bar - 1];
  if (bar < 1 || group === undefined) return [];
  const edits: Edit[] = [];
  for (const [idx, other] of sheet.groupOfBar.entries()) {
    if (other !== group || idx + 1 === bar) continue;
    const moved = inBar(sheet, edit, idx + 1);
    if (moved) edits.push(moved);
  }
  return edits;
}

function inBar(sheet: Sheet, edit: Edit, bar: number): Edit | undefined {
  switch (edit.kind) {
    case "set-grid":
    case "set-title":
    case "set-composer":
    case "set-mode":
    case "settle-bar":
      return undefined;
    case "rename-chord":
    case "delete-chord": {
      const at = (b: number) => sheet.chords.find((c) => c.bar === b && Math.abs(c.beat - edit.beat) < 0.02);
      const [here, there] = [at(edit.bar), at(bar)];
      return here?.symbol === there?.symbol && there?.by !== "hand" ? { ...edit, bar } : undefined;
    }
    case "add-note":
      return findNote(sheet, { ...edit.note, bar }) ? undefined : { ...edit, note: { ...edit.note, bar } };
    default: {
      const at: NoteRef = { ...edit.at, bar };
      const here = findNote(sheet, edit.at);
      const there = findNote(sheet, at);
      if (!here || !there || there.fret !== here.fret || there.by === "hand") return undefined;
      if (edit.kind === "move-place") return edit.bar === edit.at.bar ? { ...edit, at, bar } : undefined;
      if (edit.kind === "accept-alternative") {
        const place = here.alternatives[edit.alternativeIdx];
        const idx = there.alternatives.findIndex((a) => a.string === place?.string && a.fret === place.fret);
        return idx < 0 || isGrace(there) !== isGrace(here) ? undefined : { ...edit, at, alternativeIdx: idx };
      }
      return { ...edit, at };
    }
  }
}
