/** Sheet → the plain-text sheet that a teacher opens, mails and keeps.
 * In: a sheet. Out: one text; it reads as ordinary six-line tab. `src/sheet/parse.ts` reads it back; write → read → write gives the same bytes.
 * GRAMMAR (lines end in \n; characters count as columns; everything but the six lines may be missing when it has nothing to say)
 *   sheet   = "pulgar sheet 1", header lines, { blank, system }, [ blank, legend ]
 *   header  = NAME ": " VALUE, one a line (src/sheet/header.ts); a blank line ends it
 *   system  = [bar] [chord] count, six string lines (1 above, 6 below), { pick } { left } { hold }
 *   bar     = number, [part], "1." endings, "x3"; a help to the eye, the header decides
 *   chord   = symbols over the column where they begin, "?" after one that is not sure
 *   count   = beat numbers and signs; n signs from one number to the next divide the beat in n (src/sheet/count-row.ts)
 *   string  = name "|" then for each bar dashes with tokens (src/sheet/token.ts), bar lines "|", "|:" and ":|"; the fret's first character stands in its column
 *             "." on a line = the note before it ends there; without it a note lasts to the next one on its string or the end of the bar
 *   pick    = p i m a under the notes; under a chord stacked from the highest string down, "." for a note without a letter
 *   left    = 0-4 likewise, when the header says "left hand: shown"
 *   hold    = lengths that no column shows: BAR:BEAT(STRING)=BEATS, "g" before the string of a grace note
 *   legend  = lines from ";" on; not read
 * Cannot: two notes plucked on one string at one place (only the first is written; `buildSheet` and the edits never make such a pair). */
import { BEAT_TICKS, isGrace, notesOfBars, writtenBars } from "./bar-time.js";
import { beatsText } from "./beats-text.js";
import { headerText } from "./header.js";
import { type BarLayout, layoutBar } from "./layout.js";
import { stringNames } from "./note-name.js";
import type { Sheet, SheetNote } from "./sheet.js";
import { isUnsure } from "./token.js";

/** Characters before the bar line at the left; row names stand here. */
const MARGIN = 6;
/** A system is no wider, unless one bar alone is: fits a printed page in small type. */
const WIDEST = 112;
/** Bars in a system, as phrases of studies go in fours. */
const MOST_BARS = 4;

/** The sheet as plain text. */
export function sheetToText(sheet: Sheet): string {
  const byBar = notesOfBars(sheet.notes);
  const bars = writtenBars(sheet).map((bar) => layoutBar(sheet, bar, byBar.get(bar) ?? []));
  const blocks = [headerText(sheet), ...systemsOf(sheet, bars).map((s) => systemText(sheet, s))];
  const legend = legendText(sheet, bars);
  if (legend !== "") blocks.push(legend);
  return `${blocks.join("\n\n")}\n`;
}

/** Bars of each system: four, two or one, as many as fit; a part begins a new one, a pick-up stands before bar 1. */
function systemsOf(sheet: Sheet, bars: readonly BarLayout[]): BarLayout[][] {
  const partStarts = new Set(sheet.form.map((part) => part.bars[0]));
  const systems: BarLayout[][] = [];
  for (let idx = 0; idx < bars.length; ) {
    const first = bars[idx]?.bar === 0 ? idx + 1 : idx;
    let end = first + 1;
    while (end < bars.length && end < first + MOST_BARS && !partStarts.has(bars[end]?.bar)) end++;
    while (end > first + 1 && widthOf(bars.slice(idx, end)) > WIDEST) end = first + (end - first > 2 ? 2 : 1);
    systems.push(bars.slice(idx, end));
    idx = end;
  }
  return systems;
}

const widthOf = (bars: readonly BarLayout[]): number =>
  bars.reduce((width, bar) => width + bar.width + 1, MARGIN + 1);

const putText = (line: string, column: number, text: string): string =>
  line.padEnd(column).slice(0, column) + text + line.slice(column + text.length);

/** Puts text into one of several rows, which grow as needed. */
function put(rows: string[], row: number, column: number, text: string): void {
  while (rows.length <= row) rows.push("");
  rows[row] = putText(rows[row] ?? "", column, text);
}

/** Rows with their name in the margin of the first. */
const named = (rows: readonly string[], name: string): string[] =>
  rows.map((row, idx) => ((idx === 0 ? name : "").padEnd(MARGIN) + row.slice(MARGIN)).trimEnd());

function systemText(sheet: Sheet, bars: readonly BarLayout[]): string {
  const headings: string[] = [];
  const chords: string[] = [];
  const count: string[] = [];
  const pick: string[] = [];
  const left: string[] = [];
  const names = stringNames(sheet.openMidi);
  const lines = names.map((name) => name.padStart(MARGIN));
  const holds: string[] = [];
  for (const [idx, bar] of bars.entries()) {
    const before = idx === 0 ? undefined : bars[idx - 1];
    const barLine = barLineText(sheet, before?.bar, bar.bar);
    for (const [k, line] of lines.entries()) lines[k] = line + barLine;
    const start = (lines[0] ?? "").length;
    put(headings, 0, start, bar.heading);
    for (const { tick, text } of bar.chords) put(chords, 0, start + columnAt(bar, tick), text);
    for (const [column, sign] of bar.signs.entries()) put(count, 0, start + (bar.at[column] ?? 0), sign);
    for (let string = 1; string <= 6; string++) {
      let line = "".padEnd(bar.width, "-");
      for (const cell of bar.cells)
        if (cell.string === string)
          line = putText(line, columnAt(bar, cell.tick) - cell.token.anchor, cell.token.text);
      lines[string - 1] += line;
    }
    putLetters(bar, start, pick, (note) => note.finger);
    if (sheet.showLeftHand) putLetters(bar, start, left, (note) => note.leftFinger?.toString());
    holds.push(...bar.lengths.map((note) => holdText(bar, note)));
  }
  const end = barLineText(sheet, bars.at(-1)?.bar, undefined);
  return [
    ...named(headings, "bar"),
    ...named(chords, "chord"),
    ...named(count, "count"),
    ...lines.map((line) => line + end),
    ...named(pick, "pick"),
    ...named(left, "left"),
    ...holdRows(holds),
  ].join("\n");
}

const columnAt = (bar: BarLayout, tick: number): number => bar.at[bar.ticks.indexOf(tick)] ?? 0;

/** The bar line between two bars; undefined stands for the edge of the system. */
function barLineText(sheet: Sheet, before: number | undefined, after: number | undefined): string {
  const ends = before !== undefined && sheet.repeats.some((r) => goesBackAt(r, before));
  const starts = after !== undefined && sheet.repeats.some((r) => r.fromBar === after);
  return `${ends ? ":" : ""}|${starts ? ":" : ""}`;
}

/** Does the music go back after this bar? With endings, after every ending but the last. */
function goesBackAt(repeat: Sheet["repeats"][number], bar: number): boolean {
  if (repeat.endings.length === 0) return repeat.toBar === bar;
  return repeat.endings.some((e) => e.bars.at(-1) === bar && !e.times.includes(repeat.times));
}

/** Letters under a bar, stacked from the highest string down. */
function putLetters(
  bar: BarLayout,
  start: number,
  rows: string[],
  letterOf: (note: SheetNote) => string | undefined,
): void {
  for (const tick of new Set(bar.notes.map((n) => n.tick))) {
    const letters = stackOf(bar.notes, tick).map(letterOf);
    if (letters.every((letter) => letter === undefined)) continue;
    for (const [row, letter] of letters.entries()) put(rows, row, start + columnAt(bar, tick), letter ?? ".");
  }
}

/** Notes of one place in the order of their letters: string 1 to 6, grace notes before their main note. */
const stackOf = (notes: readonly SheetNote[], tick: number): SheetNote[] =>
  notes
    .filter((n) => n.tick === tick)
    .sort((a, b) => a.string - b.string || Number(isGrace(b)) - Number(isGrace(a)));

const holdText = (bar: BarLayout, note: SheetNote): string =>
  `${bar.bar}:${beatsText(note.tick + bar.offset + BEAT_TICKS)}` +
  `(${isGrace(note) ? "g" : ""}${note.string})=${beatsText(note.lengthTicks)}`;

/** Lengths, as many on a line as fit. */
function holdRows(holds: readonly string[]): string[] {
  const rows: string[] = [];
  for (const hold of holds) {
    const last = rows.at(-1);
    if (last !== undefined && last.length + 2 + hold.length <= WIDEST)
      rows[rows.length - 1] = `${last}  ${hold}`;
    else rows.push(`${(rows.length === 0 ? "hold" : "").padEnd(MARGIN)}${hold}`);
  }
  return rows;
}

/** What the signs mean, for a reader who never saw them; only those that stand in this sheet. */
function legendText(sheet: Sheet, bars: readonly BarLayout[]): string {
  const has = (test: (note: SheetNote) => boolean): boolean => sheet.notes.some(test);
  const marked = (mark: SheetNote["marks"][number]): boolean => has((n) => n.marks.includes(mark));
  const rows: [boolean, string][] = [
    [has(isUnsure), "3? not sure: listen, mend it or take the ? away"],
    [bars.some((b) => b.chords.some((c) => c.text.endsWith("?"))), "Am? chord not sure"],
    [marked("hammer-on"), "h3 hammer-on"],
    [marked("pull-off"), "p3 pull-off"],
    [marked("slide"), "/3 \\3 slide"],
    [marked("grace"), "g3 grace note"],
    [marked("tie"), "(3) tied, not plucked again"],
    [marked("let-ring"), "3= let ring"],
    [marked("dead"), "x dead note"],
    [marked("harmonic"), "<12> harmonic"],
    [bars.some((b) => b.cells.some((c) => c.token.text === ".")), ". the note before it ends here"],
    [
      bars.some((b) => b.lengths.length > 0),
      "hold bar:beat(string)=beats, a length that the lines do not show",
    ],
    [
      sheet.notes.length > 0,
      "a note lasts to the next one on its string or the end of its bar; frets count from the capo",
    ],
  ];
  return rows
    .filter(([shown]) => shown)
    .map(([, text]) => `; ${text}`)
    .join("\n");
}
