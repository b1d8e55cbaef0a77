/** Six-line systems in a text: which lines are strings, where the bars are. Used for our own sheets and for tab from elsewhere.
 * In: lines. Out: for a system, the stretch of each bar on each line. */
import { PulgarError } from "../base/errors.js";
import type { Finding } from "../base/finding.js";
import type { TextLine } from "./read-header.js";

/** A stretch of a line: characters start … end − 1. @property before what the bar line at its left is, after at its right */
export type Stretch = { start: number; end: number; before: string; after: string };

/** A system's strings cut into bars. bars[k][s] is bar k on string s + 1; reference[k] is the stretch that rows above and below go by. */
export type SystemBars = { bars: Stretch[][]; reference: Stretch[] };

/** "line 12, column 5" of a character. */
export const placeName = (line: TextLine, idx: number): string =>
  `line ${line.lineNumber}, column ${idx + 1}`;

/** Notice about odd text. */
export const oddText = (rule: string, bar: number, message: string, hint: string): Finding => ({
  rule,
  level: "warning",
  bar,
  message,
  hint,
});

/** The bars of one line: what stands between bar lines; a line that does not end in one is closed at its end. */
export function barsOfLine(text: string): Stretch[] {
  const stretches: Stretch[] = [];
  let before: { text: string; end: number } | undefined;
  for (const match of text.matchAll(/:?\|[|:]*/g)) {
    const start = before?.end ?? match.index;
    if (before && (match.index > start || stretches.length > 0))
      stretches.push({ start, end: match.index, before: before.text, after: match[0] });
    before = { text: match[0], end: match.index + match[0].length };
  }
  if (before && text.slice(before.end).trim() !== "")
    stretches.push({ start: before.end, end: text.trimEnd().length, before: before.text, after: "" });
  return stretches.filter((s) => s.end > s.start);
}

/** Cuts six lines into bars. @param lines strings 1 to 6 @throws PulgarError "bad-tab" where they do not have the same number of bars */
export function systemBars(lines: readonly TextLine[]): SystemBars {
  const perLine = lines.map((line) => barsOfLine(line.text));
  const counts = new Map<number, number>();
  for (const bars of perLine) counts.set(bars.length, (counts.get(bars.length) ?? 0) + 1);
  const usual = [...counts].sort((a, b) => b[1] - a[1] || b[0] - a[0])[0]?.[0] ?? 0;
  for (const [idx, bars] of perLine.entries()) {
    const line = lines[idx];
    if (line && bars.length !== usual)
      throw new PulgarError(
        "bad-tab",
        `${placeName(line, 0)}: string ${idx + 1} has ${bars.length} bars where the others have ${usual}`,
        "Each of the six lines needs the same bar lines.",
      );
  }
  const keys = perLine.map((bars) => bars.map((b) => `${b.start}-${b.end}`).join(" "));
  const votes = keys.map((key) => keys.filter((k) => k === key).length);
  const reference = perLine[votes.indexOf(Math.max(...votes))] ?? [];
  const bars = reference.map((_, k) => perLine.map((line) => line[k]).filter((s) => s !== undefined));
  return { bars, reference };
}

/** Ticks of a character by the columns around it. @param at characters of the columns, rising @param ticks of the columns
 * @returns exact when the character is a column; else the column beside it, or the nearest multiple of 3 or 4 ticks between */
export function tickAt(
  char: number,
  at: readonly number[],
  ticks: readonly number[],
  width: number,
  ticksOfBar: number,
): { tick: number; exact: boolean } {
  const idx = at.indexOf(char);
  if (idx >= 0) return { tick: ticks[idx] ?? 0, exact: true };
  let left = -1;
  while ((at[left + 1] ?? Number.POSITIVE_INFINITY) < char) left++;
  if (left < 0) return { tick: ticks[0] ?? 0, exact: false };
  const fromChar = at[left] ?? 0;
  const toChar = at[left + 1] ?? Math.max(width, char + 1);
  const fromTick = ticks[left] ?? 0;
  const toTick = ticks[left + 1] ?? ticksOfBar;
  // With room between the columns, one character off is a slip of the hand, not a place of its own.
  const next = ticks[left + 1];
  if (toChar - fromChar >= 3 && char - fromChar === 1) return { tick: fromTick, exact: false };
  if (toChar - fromChar >= 3 && toChar - char === 1 && next !== undefined)
    return { tick: next, exact: false };
  const raw = fromTick + ((char - fromChar) / (toChar - fromChar)) * (toTick - fromTick);
  const round = [3, 4].map((step) => Math.round(raw / step) * step);
  const tick = round.sort((a, b) => Math.abs(a - raw) - Math.abs(b - raw) || a - b)[0] ?? 0;
  return { tick: Math.max(fromTick, Math.min(tick, toTick - 1, ticksOfBar - 1)), exact: false };
}

/** Column whose character is nearest. */
export function nearestColumn(char: number, at: readonly number[]): number {
  let best = 0;
  for (const [idx, x] of at.entries()) if (Math.abs(x - char) < Math.abs((at[best] ?? 0) - char)) best = idx;
  return best;
}
