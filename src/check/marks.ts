/** The tab of one bar with the proof-reader's marks under it.
 * In: Sheet, bar, its differences. Out: lines of text. One column an event; a struck number stands in parentheses where the
 * recording has no note or another one, and the sign below says what: x missing, + extra, > late, < early, and the right fret
 * where another pitch was heard. */

import type { Sheet } from "../sheet/sheet.js";
import { pitchClassName } from "../theory/pitch.js";
import type { Difference } from "./report.js";
import { TICKS_A_BEAT } from "./written.js";

export const SIGN: Readonly<Record<Difference["kind"], string>> = Object.freeze({
  missing: "x",
  extra: "+",
  "wrong-pitch": "=",
  early: "<",
  late: ">",
});

/** Names of strings 1 … 6 as they stand before the lines. */
const openNames = (sheet: Sheet): string[] => {
  return [1, 2, 3, 4, 5, 6].map((string) => {
    const name = pitchClassName(sheet.openMidi[6 - string] ?? 0);
    return string === 1 ? name.toLowerCase() : name;
  });
};

/** Six lines of tab of a bar and a seventh of signs; columns are the written moments and those of extra notes. */
export function markedTab(sheet: Sheet, bar: number, differences: readonly Difference[]): string[] {
  const notes = sheet.notes.filter((n) => n.bar === bar && !n.marks.includes("tie"));
  const own = differences.filter((d) => d.bar === bar);
  const tickOf = (d: Difference): number => Math.round((d.beat - 1) * TICKS_A_BEAT);
  const ticks = [...new Set([...notes.map((n) => n.tick), ...own.map(tickOf)])].sort((a, b) => a - b);
  const columns = ticks.map((tick) => {
    const cells = ["", "", "", "", "", ""];
    const signs = new Set<string>();
    for (const n of notes) {
      if (n.tick !== tick) continue;
      const difference = own.find((d) => tickOf(d) === tick && d.string === n.string && d.kind !== "extra");
      const fret = n.marks.includes("dead") ? "x" : String(n.fret);
      if (!difference) cells[n.string - 1] = fret;
      else if (difference.kind === "wrong-pitch")
        cells[n.string - 1] =
          `(${fret})${difference.playedString === undefined ? (difference.playedFret ?? "") : ""}`;
      else cells[n.string - 1] = difference.kind === "missing" ? `(${fret})` : fret;
      if (difference) signs.add(SIGN[difference.kind]);
    }
    for (const d of own) {
      if (tickOf(d) !== tick) continue;
      if (d.kind === "extra") signs.add(SIGN.extra);
      const [string, fret] = d.kind === "extra" ? [d.string, d.fret] : [d.playedString, d.playedFret];
      if (string !== undefined && fret !== undefined && cells[string - 1] === "")
        cells[string - 1] = `+${fret}`;
    }
    const sign = [...signs].sort().join("");
    const width = Math.max(sign.length, ...cells.map((c) => c.length)) + 1;
    return { cells: cells.map((c) => c.padEnd(width, "-")), sign: sign.padEnd(width, " ") };
  });
  const lines = openNames(sheet).map(
    (name, i) => `${name.padEnd(2)}|-${columns.map((c) => c.cells[i]).join("-")}|`,
  );
  return [...lines, `    ${columns.map((c) => c.sign).join(" ")}`.trimEnd()];
}
