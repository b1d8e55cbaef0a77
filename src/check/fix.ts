/** A corrected copy of a sheet: what was played instead of what was written.
 * In: Sheet, CheckReport. Out: a new Sheet; the given one is not touched. Wrong pitches move on their string where it can sound them,
 * else to a free one, missing notes go (but not whole bars that the player left out), extra notes come where a string is free. Timing is the player's and is left alone. Each change
 * is the machine's, bears the mark of doubt until a hand settles it, and leaves a Finding and a remark in the header. */
import type { Finding } from "../base/finding.js";
import { roundTo } from "../base/numbers.js";
import type { Sheet, SheetNote } from "../sheet/sheet.js";
import { noteInKey } from "../theory/scale.js";
import type { CheckReport, Difference } from "./report.js";
import { TICKS_A_BEAT } from "./written.js";

const FIX = Object.freeze({
  stepTicks: 6, // an extra note beside every written place is set on a quarter of the beat; finer is not known of it
  nearTicks: 3, // half a step: nearer than this it belongs to a place that the sheet uses
  mostConfidence: 0.5, // of a place that nobody has listened to yet: under the mark of doubt
});

const KINDS: readonly Difference["kind"][] = ["missing", "wrong-pitch", "extra", "early", "late"];

const tickOf = (d: Difference): number => Math.round((d.beat - 1) * TICKS_A_BEAT);

/** The sheet as played. Returns an equal sheet when nothing differs. */
export function fixSheet(sheet: Sheet, report: CheckReport): Sheet {
  const notes: (SheetNote | undefined)[] = sheet.notes.map((n) => ({ ...n, marks: [...n.marks] }));
  const added: SheetNote[] = [];
  const usedTicks = [...new Set(sheet.notes.map((n) => n.tick))].sort((a, b) => a - b);
  const placeTick = (tick: number): number => {
    const near = usedTicks.filter((t) => Math.abs(t - tick) < FIX.nearTicks);
    near.sort((a, b) => Math.abs(a - tick) - Math.abs(b - tick) || a - b);
    return near[0] ?? Math.round(tick / FIX.stepTicks) * FIX.stepTicks;
  };
  const stringsAt = (bar: number, tick: number): Set<number> =>
    new Set([...notes, ...added].flatMap((n) => (n?.bar === bar && n.tick === tick ? [n.string] : [])));
  const marked: { finding: Finding; order: number }[] = [];
  const mark = (bar: number, message: string, order: number): void => {
    const finding: Finding = {
      rule: "fixed",
      level: "note",
      bar,
      message: `Bar ${bar}: ${message}`,
      hint: "Listen and confirm it by hand.",
    };
    marked.push({ finding, order });
  };
  const openOf = (string: number): number => (sheet.openMidi[6 - string] ?? 0) + sheet.capo;
  const find = (d: Difference): number =>
    notes.findIndex(
      (n) =>
        n !== undefined &&
        n.bar === d.bar &&
        n.string === d.string &&
        n.fret === d.fret &&
        Math.abs(n.tick - tickOf(d)) <= 1,
    );
  const leftOut = new Set<number>();
  // Notes that come find the strings free that notes that go have left.
  const changes = report.differences.map((d, order) => ({ d, order }));
  changes.sort((a, b) => KINDS.indexOf(a.d.kind) - KINDS.indexOf(b.d.kind) || a.order - b.order);
  for (const { d, order } of changes) {
    if (d.kind === "missing" && d.onsetSec === undefined) leftOut.add(d.bar);
    else if (d.kind === "missing") {
      const at = find(d);
      if (at < 0) continue;
      notes[at] = undefined;
      mark(d.bar, `beat ${d.beat}, string ${d.string} fret ${d.fret} struck out: it is not heard.`, order);
    } else if (d.kind === "wrong-pitch" && d.playedMidi !== undefined) {
      const at = find(d);
      const note = notes[at];
      if (!note) continue;
      const place =
        d.playedFret === undefined
          ? undefined
          : { string: d.playedString ?? note.string, fret: d.playedFret };
      if (!place || (place.string !== note.string && stringsAt(d.bar, note.tick).has(place.string))) {
        mark(
          d.bar,
          `beat ${d.beat}, string ${d.string} fret ${d.fret}: no string is free for the ${noteInKey(d.playedMidi, sheet.mode)} heard; left as written.`,
          order,
        );
        continue;
      }
      notes[at] = {
        ...note,
        ...place,
        midi: openOf(place.string) + place.fret,
        by: "machine",
        confidence: Math.min(FIX.mostConfidence, d.confidence),
        alternatives: [],
      };
      mark(
        d.bar,
        `beat ${d.beat}, string ${place.string} fret ${place.fret}, was ${place.string === note.string ? "" : `string ${note.string} `}fret ${note.fret}.`,
        order,
      );
    } else if (
      d.kind === "extra" &&
      d.playedMidi !== undefined &&
      d.string !== undefined &&
      d.fret !== undefined
    ) {
      const tick = placeTick(tickOf(d));
      const taken = stringsAt(d.bar, tick).has(d.string);
      if (taken || d.bar < 1 || tick >= sheet.grid.meter.beats * TICKS_A_BEAT || tick < 0) {
        mark(
          d.bar,
          `beat ${d.beat}: no string is free for the ${noteInKey(d.playedMidi, sheet.mode)} heard; not added.`,
          order,
        );
        continue;
      }
      added.push({
        bar: d.bar,
        tick,
        lengthTicks: Math.min(TICKS_A_BEAT, sheet.grid.meter.beats * TICKS_A_BEAT - tick),
        string: d.string,
        fret: d.fret,
        midi: openOf(d.string) + d.fret,
        marks: [],
        by: "machine",
        confidence: Math.min(FIX.mostConfidence, d.confidence),
        alternatives: [],
        ...(d.onsetSec === undefined ? {} : { onsetSec: d.onsetSec }),
      });
      mark(
        d.bar,
        `beat ${roundTo(1 + tick / TICKS_A_BEAT, 3)}, string ${d.string} fret ${d.fret} added: ${noteInKey(d.playedMidi, sheet.mode)} is heard.`,
        order,
      );
    }
  }
  for (const bar of leftOut) mark(bar, "not in the recording; left as written.", 0);
  marked.sort((a, b) => a.finding.bar - b.finding.bar || a.order - b.order);
  const findings = marked.map((m) => m.finding);
  return {
    ...sheet,
    notes: [...notes.filter((n): n is SheetNote => n !== undefined), ...added].sort(
      (a, b) => a.bar - b.bar || a.tick - b.tick || b.string - a.string,
    ),
    findings: [...sheet.findings, ...findings],
    ...(findings.length > 0
      ? { remarks: [...(sheet.remarks ?? []), ...findings.map((f) => `check: ${f.message}`)] }
      : {}),
  };
}
