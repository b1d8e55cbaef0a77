/** A corrected copy of a sheet: what was played instead of what was written.
 * In: Sheet, CheckReport. Out: a new Sheet; the given one is not touched. Wrong pitches move on their string where it can sound them,
 * missing notes go, extra notes come where a string is free. Timing is the player's and is left alone. Each change is the machine's
 * and leaves a Finding. */
import type { Finding } from "../base/finding.js";
import type { Sheet, SheetNote } from "../sheet/sheet.js";
import { noteName } from "./note-name.js";
import type { CheckReport, Difference } from "./report.js";
import { TICKS_A_BEAT } from "./written.js";

const STEP_TICKS = 6; // extra notes are set on sixteenths of a quarter beat; finer is not known of them

const tickOf = (d: Difference): number => Math.round((d.beat - 1) * TICKS_A_BEAT);

/** The sheet as played. Returns an equal sheet when nothing differs. */
export function fixSheet(sheet: Sheet, report: CheckReport): Sheet {
  const notes: (SheetNote | undefined)[] = sheet.notes.map((n) => ({ ...n, marks: [...n.marks] }));
  const added: SheetNote[] = [];
  const findings: Finding[] = [];
  const mark = (bar: number, message: string): void => {
    findings.push({
      rule: "fixed",
      level: "note",
      bar,
      message: `Bar ${bar}: ${message}`,
      hint: "Listen and confirm it by hand.",
    });
  };
  const find = (d: Difference): number =>
    notes.findIndex(
      (n) =>
        n !== undefined &&
        n.bar === d.bar &&
        n.string === d.string &&
        n.fret === d.fret &&
        Math.abs(n.tick - tickOf(d)) <= 1,
    );
  for (const d of report.differences) {
    if (d.kind === "missing") {
      const at = find(d);
      if (at < 0) continue;
      notes[at] = undefined;
      mark(d.bar, `string ${d.string} fret ${d.fret} at beat ${d.beat} struck: it is not heard.`);
    } else if (d.kind === "wrong-pitch" && d.playedMidi !== undefined) {
      const at = find(d);
      const note = notes[at];
      if (!note) continue;
      if (d.playedFret === undefined) {
        mark(
          d.bar,
          `string ${d.string} at beat ${d.beat} cannot sound the ${noteName(d.playedMidi)} heard; left as written.`,
        );
        continue;
      }
      const raised = d.playedFret - note.fret;
      notes[at] = {
        ...note,
        fret: d.playedFret,
        midi: note.midi + raised,
        by: "machine",
        confidence: d.confidence,
        alternatives: [],
      };
      mark(d.bar, `string ${d.string} at beat ${d.beat} is fret ${d.playedFret}, was ${d.fret}.`);
    } else if (
      d.kind === "extra" &&
      d.playedMidi !== undefined &&
      d.string !== undefined &&
      d.fret !== undefined
    ) {
      const open = (sheet.openMidi[6 - d.string] ?? 0) + sheet.capo;
      const tick = Math.round(tickOf(d) / STEP_TICKS) * STEP_TICKS;
      const taken = [...notes, ...added].some(
        (n) => n?.bar === d.bar && n.tick === tick && n.string === d.string,
      );
      if (taken || d.bar < 1 || tick >= sheet.grid.meter.beats * TICKS_A_BEAT || tick < 0) {
        mark(d.bar, `${noteName(d.playedMidi)} heard near beat ${d.beat} finds no place; not added.`);
        continue;
      }
      added.push({
        bar: d.bar,
        tick,
        lengthTicks: Math.min(TICKS_A_BEAT, sheet.grid.meter.beats * TICKS_A_BEAT - tick),
        string: d.string,
        fret: d.fret,
        midi: open + d.fret,
        marks: [],
        by: "machine",
        confidence: d.confidence,
        alternatives: [],
        ...(d.onsetSec === undefined ? {} : { onsetSec: d.onsetSec }),
      });
      mark(d.bar, `string ${d.string} fret ${d.fret} added at beat ${1 + tick / TICKS_A_BEAT}: it is heard.`);
    }
  }
  return {
    ...sheet,
    notes: [...notes.filter((n): n is SheetNote => n !== undefined), ...added].sort(
      (a, b) => a.bar - b.bar || a.tick - b.tick || b.string - a.string,
    ),
    findings: [...sheet.findings, ...findings],
  };
}
