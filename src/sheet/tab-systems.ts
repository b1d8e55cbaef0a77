/** Six-line systems in tab from elsewhere: which lines are strings, which rows around them are count, chords or picking letters.
 * In: lines of any text. Out: systems, and the lines that belong to none. Uneven lines are cut where most of their system has bar lines. */
import type { Finding } from "../base/finding.js";
import { parseChordSymbol } from "../theory/chord.js";
import type { TextLine } from "./read-header.js";
import { barsOfLine, oddText, placeName, type Stretch } from "./tab-lines.js";

/** @property strings string 1 first @property labels as written, "" where there is none */
export type TabSystem = {
  strings: TextLine[];
  labels: string[];
  count: TextLine | undefined;
  chords: TextLine | undefined;
  picks: TextLine[];
};

const STRING_LINE = /^(\s*)(?:([A-Ga-g][#b♯♭]?)\d?|[1-6])?(\s*[|:‖[]*)(.*)$/;
const BODY = /^[-–—_\s\d|:‖\]hpbrstvxXHPSgzLM/\\<>()~=?.*^'+]*$/;
const ROW_NAME = /^(bar|chords?|count|pick|left|hold)(?=\s)/i;

/** Label and body of a line that looks like a string; undefined for other lines. */
function stringLine(text: string): { label: string; body: string } | undefined {
  const match = STRING_LINE.exec(text);
  const body = match?.[4] ?? "";
  if (!match || !BODY.test(body)) return undefined;
  const dashes = (body.match(/[-–—_]/g) ?? []).length;
  const filled = body.replace(/\s/g, "").length;
  return dashes >= 3 && dashes * 4 >= filled ? { label: match[2] ?? "", body } : undefined;
}

/** The line as the reader of tokens wants it: same length, signs of the trade in one spelling, what stands before the first bar blank. */
export function plainLine(line: TextLine): TextLine {
  const match = STRING_LINE.exec(line.text);
  const before =
    (match?.[1] ?? "").length +
    (match?.[0] ?? "").length -
    (match?.[1] ?? "").length -
    (match?.[3] ?? "").length -
    (match?.[4] ?? "").length;
  let text = " ".repeat(before) + line.text.slice(before);
  if (!/[|:‖[]/.test(match?.[3] ?? "")) {
    // No bar line at the left: one is put over the last character of the label, or before the first dash.
    const idx = Math.max(0, before - 1);
    text = `${text.slice(0, idx)}|${text.slice(idx + 1)}`;
  }
  text = text
    .replace(/[–—_]/g, "-")
    .replace(/[‖[\]]/g, "|")
    .replace(/H(?=\d)/g, "h")
    .replace(/P(?=\d)/g, "p")
    .replace(/[sS](?=\d)/g, "/");
  return { text, lineNumber: line.lineNumber };
}

/** Finds the systems of a text. Groups of string lines that are not six are named in findings. */
export function tabSystems(lines: readonly TextLine[]): {
  systems: TabSystem[];
  others: TextLine[];
  findings: Finding[];
  stringLineCount: number;
} {
  const systems: TabSystem[] = [];
  const findings: Finding[] = [];
  const used = new Set<TextLine>();
  let stringLineCount = 0;
  for (let idx = 0; idx < lines.length; ) {
    let end = idx;
    while (end < lines.length && stringLine(lines[end]?.text ?? "")) end++;
    const count = end - idx;
    stringLineCount += count;
    const first = lines[idx];
    if (count === 0 || !first) {
      idx++;
      continue;
    }
    for (const line of lines.slice(idx, end)) used.add(line);
    if (count % 6 === 0) for (let k = idx; k < end; k += 6) systems.push(systemAt(lines, k, used));
    else
      findings.push(
        oddText(
          "tab-lines",
          0,
          `${placeName(first, 0)}: ${count} string lines together; they were not read`,
          "A system needs six lines, one for each string, with no line between.",
        ),
      );
    idx = end;
  }
  const others = lines.filter((line) => !used.has(line) && line.text.trim() !== "");
  return { systems, others, findings, stringLineCount };
}

function systemAt(lines: readonly TextLine[], start: number, used: Set<TextLine>): TabSystem {
  const six = lines.slice(start, start + 6);
  const system: TabSystem = {
    strings: six,
    labels: six.map((line) => stringLine(line.text)?.label ?? ""),
    count: undefined,
    chords: undefined,
    picks: [],
  };
  for (let idx = start - 1; idx >= Math.max(0, start - 3); idx--) {
    const line = lines[idx];
    if (!line || used.has(line) || line.text.trim() === "") break;
    const row = withoutName(line);
    if (!system.count && isCount(row.text)) system.count = row;
    else if (!system.chords && isChords(row.text)) system.chords = row;
    else if (!/^bar\s/.test(line.text)) break;
    used.add(line);
  }
  for (let idx = start + 6; idx < Math.min(lines.length, start + 13); idx++) {
    const line = lines[idx];
    if (!line || line.text.trim() === "") break;
    const row = withoutName(line);
    if (!system.count && system.picks.length === 0 && isCount(row.text)) system.count = row;
    else if (/^[\s|]*(?:[pima.][\s|]*)+$/.test(row.text)) system.picks.push(row);
    else break;
    used.add(line);
  }
  return system;
}

/** A row with the name in its margin blanked. */
const withoutName = (line: TextLine): TextLine => {
  const name = ROW_NAME.exec(line.text)?.[0] ?? "";
  return { text: " ".repeat(name.length) + line.text.slice(name.length), lineNumber: line.lineNumber };
};

function isCount(text: string): boolean {
  const signs = text.split(/[\s|]+/).filter((s) => s !== "");
  return (
    signs.length >= 2 && signs.includes("1") && signs.every((s) => /^(\d{1,2}|[&+eaint.]|an|and)$/.test(s))
  );
}

function isChords(text: string): boolean {
  const words = text.split(/[\s|]+/).filter((s) => s !== "");
  return (
    words.length > 0 &&
    words.every((w) => /^N\.?C\.?$/.test(w) || parseChordSymbol(w.replace(/\?$/, "")) !== undefined)
  );
}

/** Bars of a system where lines may be uneven: most lines decide, the others are cut at the same characters.
 * @param lines plain lines, string 1 first */
export function looseBars(lines: readonly TextLine[]): {
  bars: Stretch[][];
  reference: Stretch[];
  uneven: TextLine[];
} {
  const perLine = lines.map((line) => barsOfLine(line.text));
  const votes = new Map<number, number>();
  for (const bars of perLine) votes.set(bars.length, (votes.get(bars.length) ?? 0) + 1);
  const usual = [...votes].sort((a, b) => b[1] - a[1] || b[0] - a[0])[0]?.[0] ?? 0;
  const regular = perLine.filter((bars) => bars.length === usual);
  const keys = regular.map((bars) => bars.map((b) => `${b.start}-${b.end}`).join(" "));
  const counts = keys.map((key) => keys.filter((k) => k === key).length);
  const reference = regular[counts.indexOf(Math.max(...counts))] ?? [];
  const uneven: TextLine[] = [];
  const bars = reference.map((stretch, k) =>
    perLine.map((own, s) => {
      const line = lines[s];
      if (own.length === usual) return own[k] ?? stretch;
      if (line && !uneven.includes(line)) uneven.push(line);
      return {
        ...stretch,
        start: Math.min(stretch.start, line?.text.length ?? 0),
        end: Math.min(stretch.end, line?.text.length ?? 0),
      };
    }),
  );
  return { bars, reference, uneven };
}
