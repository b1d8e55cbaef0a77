/** The report for the terminal: one line a bar, and the differing bars spelled out like a proof-reader's note with their tab.
 * In: CheckReport, Sheet. Out: text. Meaning never rests on colour: every line says its verdict in words. */

import type { Sheet } from "../sheet/sheet.js";
import { noteInKey } from "../theory/scale.js";
import { markedTab, SIGN } from "./marks.js";
import type { CheckReport, Difference } from "./report.js";
import { TICKS_A_BEAT } from "./written.js";

const places = (d: Difference): string =>
  d.string === undefined ? "" : `string ${d.string}${d.fret === undefined ? "" : ` fret ${d.fret}`}`;

const beatText = (beat: number): string =>
  Number.isInteger(beat) ? String(beat) : beat.toFixed(2).replace(/0$/, "");

const MANY_DIFFERENCES = 12; // in one bar: a list of them helps nobody

const SIGN_WORDS: readonly (readonly [Difference["kind"], string])[] = [
  ["wrong-pitch", "another pitch heard, its fret after the brackets"],
  ["missing", "not heard"],
  ["extra", "heard and not written"],
  ["early", "early"],
  ["late", "late"],
];

/** Where in its bar a difference stands: by beat, or by column where the tab says only the order. */
function placeText(d: Difference, sheet: Sheet): string {
  if (sheet.rhythm !== "none") return `beat ${beatText(d.beat)}`;
  const tick = Math.round((d.beat - 1) * TICKS_A_BEAT);
  const ticks = [...new Set(sheet.notes.filter((n) => n.bar === d.bar).map((n) => n.tick))];
  const column = ticks.filter((t) => t <= tick).length;
  return `${ticks.includes(tick) ? "" : column === 0 ? "before " : "after "}column ${Math.max(1, column)}`;
}

/** One difference as a sentence. */
export function differenceText(d: Difference, sheet: Sheet): string {
  const at = placeText(d, sheet);
  const sure = d.confidence >= 0.8 ? "" : ` (${Math.round(d.confidence * 100)} % sure)`;
  const heardAt = d.onsetSec === undefined ? "" : ` at ${d.onsetSec.toFixed(2)} s`;
  const written = d.writtenMidi === undefined ? "" : ` (${noteInKey(d.writtenMidi, sheet.mode)})`;
  if (d.kind === "missing") return `${at}, ${places(d)}${written}: written, not heard${sure}`;
  if (d.kind === "wrong-pitch") {
    const fret =
      d.playedFret === undefined
        ? ""
        : d.playedString === undefined
          ? `, that is fret ${d.playedFret}`
          : `, such as string ${d.playedString} fret ${d.playedFret}`;
    const heard = d.playedMidi === undefined ? "another pitch" : noteInKey(d.playedMidi, sheet.mode);
    return `${at}, ${places(d)}${written}: ${heard} is heard${heardAt}${fret}${sure}`;
  }
  if (d.kind === "extra") {
    const heard = d.playedMidi === undefined ? "a note" : noteInKey(d.playedMidi, sheet.mode);
    const could = d.string === undefined ? "" : `, such as ${places(d)}`;
    return `${at}: ${heard} is heard${heardAt} and not written${could}${sure}`;
  }
  const off = d.offMs === undefined ? "" : `${Math.abs(d.offMs)} ms `;
  return `${at}, ${places(d)}${written}: ${off}${d.kind}${sure}`;
}

/** The whole report. @param options.color ANSI colours on verdicts */
export function reportToText(report: CheckReport, sheet: Sheet, options: { color?: boolean } = {}): string {
  const paint = (text: string, code: number): string =>
    options.color ? `\u001b[${code}m${text}\u001b[0m` : text;
  const width = String(Math.max(0, ...report.bars.map((b) => b.bar))).length;
  const lines: string[] = [];
  for (const finding of report.findings)
    if (finding.bar === 0) lines.push(`${paint(finding.level, 33)}: ${finding.message} ${finding.hint}`);
  if (lines.length > 0) lines.push("");
  for (const { bar, verdict } of report.bars) {
    const own = report.differences.filter((d) => d.bar === bar);
    const head = `bar ${String(bar).padStart(width)}`;
    const isLeftOut = own.length > 0 && own.every((d) => d.kind === "missing" && d.onsetSec === undefined);
    const counts =
      own.length === 0
        ? ""
        : isLeftOut
          ? ": not played"
          : `: ${own.length} difference${own.length === 1 ? "" : "s"}`;
    const painted = paint(verdict, verdict === "same" ? 32 : verdict === "differs" ? 31 : 33);
    lines.push(`${head}  ${painted}${counts}`);
    const said = report.findings.filter((f) => f.bar === bar && bar !== 0);
    for (const f of said) lines.push(`    ${f.message} ${f.hint}`);
    if (own.length === 0 || isLeftOut) continue;
    const shown = own.length > MANY_DIFFERENCES ? own.slice(0, MANY_DIFFERENCES) : own;
    for (const d of shown) lines.push(`    ${differenceText(d, sheet)}`);
    if (own.length > shown.length) lines.push(`    and ${own.length - shown.length} more in this bar`);
    for (const line of markedTab(sheet, bar, own)) lines.push(`    ${line}`);
  }
  const used = SIGN_WORDS.filter(([kind]) => report.differences.some((d) => d.kind === kind));
  if (used.length > 0)
    lines.push("", `under the tab: ${used.map(([kind, words]) => `${SIGN[kind]} ${words}`).join("; ")}`);
  const s = report.summary;
  lines.push(
    "",
    report.differences.length === 0 && !report.bars.some((b) => b.verdict === "differs")
      ? `The sheet stands: ${s.matched} of ${s.written} notes heard as written.`
      : `${s.matched} of ${s.written} notes as written; ${s.missing} missing, ${s.extra} extra, ${s.wrongPitch} of another pitch, ${s.timing} early or late.`,
  );
  const unsure = report.bars.filter((b) => b.verdict === "unsure").map((b) => b.bar);
  if (unsure.length > 0)
    lines.push(`The sound does not decide in bar${unsure.length === 1 ? "" : "s"} ${unsure.join(", ")}.`);
  return `${lines.join("\n")}\n`;
}
