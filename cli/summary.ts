/** What the terminal says of a draft: tempo, mode, chords, pattern, form, what is unsure. */
import type { Finding } from "../src/base/finding.js";
import { offeredReadings } from "../src/grid/offered.js";
import { rangesText } from "../src/sheet/beats-text.js";
import { hitsText } from "../src/sheet/header.js";
import type { Sheet } from "../src/sheet/sheet.js";
import { isUnsure } from "../src/sheet/token.js";
import { findingLines } from "./terminal.js";

export function draftSummary(
  sheet: Sheet,
  told: { label: string; keptCount: number; changes: readonly Finding[] },
): string {
  const rows: [string, string][] = [
    ["tempo", tempoText(sheet)],
    ["key or mode", modeText(sheet)],
    ["chords", chordText(sheet)],
    ["pattern", patternText(sheet)],
    ["form", sheet.form.map((part) => part.label).join(" ") || "through-composed"],
    ["notes", noteText(sheet)],
  ];
  if (told.keptCount > 0) rows.push(["by hand", `${told.keptCount} corrections kept`]);
  const head = `${told.label ? `${told.label}: ` : ""}${sheet.title}\n`;
  const body = rows.map(([name, text]) => `  ${name.padEnd(12)} ${text}\n`).join("");
  return head + body + findingLines([...sheet.findings, ...told.changes]);
}

function tempoText(sheet: Sheet): string {
  const { tempoBpm, tempoFrom, meter, feel, confidence, countInBeats } = sheet.grid;
  const from = tempoFrom === "user" ? "as you said" : `estimated, ${sureText(confidence)}`;
  const dotted =
    meter.unit === 8 && meter.beats % 3 === 0 ? ` (dotted quarter = ${(tempoBpm / 3).toFixed(1)})` : "";
  const offered = offeredReadings(sheet.grid).map(
    (r) => `${r.tempoBpm.toFixed(0)} in ${r.meter.beats}/${r.meter.unit}`,
  );
  const other = tempoFrom === "estimated" && offered.length > 0 ? `; or ${offered.join(", ")}` : "";
  const countIn = countInBeats > 0 ? `, after a count-in of ${countInBeats}` : "";
  return `${tempoBpm.toFixed(1)} in ${meter.beats}/${meter.unit}${dotted}, ${feel}, ${from}${countIn}${other}`;
}

function modeText(sheet: Sheet): string {
  const { mode } = sheet;
  if (!mode) return "not found";
  const undecided = mode.undecided
    .map((u) => `; ${u.between[0]} or ${u.between[1]}: the ${u.missingDegree} that decides is not played`)
    .join("");
  const why = mode.evidence[0] ? `\n${" ".repeat(15)}${mode.evidence[0]}` : "";
  return `${mode.tonic} ${mode.mode}, ${sureText(mode.confidence)}${undecided}${why}`;
}

function chordText(sheet: Sheet): string {
  const bars: string[] = [];
  for (let bar = 1; bar <= Math.min(sheet.grid.barCount, 16); bar++)
    bars.push(
      sheet.chords
        .filter((c) => c.bar === bar)
        .map((c) => c.symbol)
        .join(" ") || "%",
    );
  return `| ${bars.join(" | ")} |${sheet.grid.barCount > 16 ? " …" : ""}`;
}

function patternText(sheet: Sheet): string {
  const { pattern } = sheet;
  if (!pattern) return "no one pattern";
  const departing = pattern.departures.map((d) => d.bar);
  const others =
    departing.length === 0 ? "" : `; ${barsText(departing)} ${departing.length === 1 ? "departs" : "depart"}`;
  return `${hitsText(pattern.hits)} (${pattern.bars.length} of ${sheet.grid.barCount} bars${others})`;
}

function noteText(sheet: Sheet): string {
  const unsure = sheet.notes.filter(isUnsure);
  const bars = [...new Set(unsure.map((n) => n.bar))];
  const where =
    unsure.length > 0 ? `, ${unsure.length} unsure (marked ?) in ${barsText(bars)}` : ", none unsure";
  return `${sheet.notes.length}${where}`;
}

/** "bar 8", "bars 1-3, 7": a dozen ranges at most. */
function barsText(bars: readonly number[]): string {
  const ranges = rangesText(bars).split(",");
  const shown = ranges.slice(0, 12).join(", ");
  return `${bars.length === 1 ? "bar" : "bars"} ${shown}${ranges.length > 12 ? " …" : ""}`;
}

/** In whole per cent; a machine is never quite sure. */
const sureText = (confidence: number): string =>
  confidence > 0.99 ? "over 99 % sure" : `${Math.round(confidence * 100)} % sure`;
