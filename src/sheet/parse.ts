/** Plain text → Sheet. Our own text sheet (grammar in text.ts) is read to the tick; other six-line tab goes to read-tab.ts.
 * In: the text of a file. Out: a sheet and findings with line and column.
 * A note without "?" is a hand's; one with "?" stays the machine's. Exact times and alternatives are not in the text: `handEdits` joins them from the JSON sheet.
 * Cannot: bars of different meters in one sheet. */
import { PulgarError } from "../base/errors.js";
import type { Finding } from "../base/finding.js";
import { BEAT_TICKS } from "./bar-time.js";
import { rootAndBass } from "./chord-name.js";
import { ticksOfCount } from "./count-row.js";
import { FIRST_LINE } from "./header.js";
import { bodyRepeats } from "./read-bar-lines.js";
import { type Header, readHeader, type TextLine } from "./read-header.js";
import { applyHolds, type Columns, readLetters, readStrings, sortedNotes } from "./read-notes.js";
import { sheetFromTab } from "./read-tab.js";
import type { Sheet, SheetChord, SheetNote } from "./sheet.js";
import { nearestColumn, oddText, placeName, type Stretch, systemBars } from "./tab-lines.js";

/** The notes of longer texts would fill a book; refused before they fill the memory. */
const MOST_CHARACTERS = 4_000_000;
const MOST_FINDINGS = 200;
const ROW = /^(bar|chord|count|pick|left|hold)(?=\s|$)/;
const STRING_LINE = /^\s*[A-Ga-g]?[#b♯♭]?\s*\|/;

type RowName = "bar" | "chord" | "count" | "pick" | "left" | "hold";
type Block = { rows: Record<RowName, TextLine[]>; strings: TextLine[] };

/** Reads a text sheet or plain six-line tab.
 * @throws PulgarError "bad-tab" with line and column, "too-large", "empty-file" */
export function sheetFromText(text: string): { sheet: Sheet; findings: Finding[] } {
  if (text.length > MOST_CHARACTERS)
    throw new PulgarError(
      "too-large",
      `${text.length} characters; a text sheet has at most ${MOST_CHARACTERS}`,
      "Is this a sheet? Split it into pieces.",
    );
  const lines = text
    .replace(/^\uFEFF/, "")
    .split(/\r\n|\n|\r/)
    .map((line, idx): TextLine => ({ text: expandTabs(line), lineNumber: idx + 1 }));
  const first = lines.findIndex((line) => line.text.trim() !== "");
  const head = lines[first]?.text.trim();
  if (head === undefined)
    throw new PulgarError(
      "empty-file",
      "the file has no text",
      "Give a text sheet, six-line tab, MusicXML or MIDI.",
    );
  const result = /^pulgar sheet\b/.test(head) ? ownSheet(lines, first) : sheetFromTab(lines);
  return { sheet: result.sheet, findings: result.findings.slice(0, MOST_FINDINGS) };
}

/** Tabulators as spaces to the next column of eight, as editors show them. */
function expandTabs(line: string): string {
  if (!line.includes("\t")) return line;
  let out = "";
  for (const char of line) out += char === "\t" ? " ".repeat(8 - (out.length % 8)) : char;
  return out;
}

function ownSheet(lines: readonly TextLine[], first: number): { sheet: Sheet; findings: Finding[] } {
  const head = lines[first];
  if (head?.text.trim() !== FIRST_LINE)
    throw new PulgarError(
      "bad-tab",
      `line ${first + 1}, column 1: found "${head?.text.trim()}"; this version reads "${FIRST_LINE}"`,
      "Was the sheet written by a newer version?",
    );
  let bodyIdx = first + 1;
  while (lines[bodyIdx] && lines[bodyIdx]?.text.trim() !== "") bodyIdx++;
  const { header, findings } = readHeader(lines.slice(first + 1, bodyIdx));
  const blocks = blocksOf(lines.slice(bodyIdx), findings);
  return { sheet: readBlocks(header, blocks, findings), findings };
}

/** Gathers rows and string lines into systems. */
function blocksOf(lines: readonly TextLine[], findings: Finding[]): Block[] {
  const blocks: Block[] = [];
  let block: Block | undefined;
  let lastRow: RowName | undefined;
  const open = (): Block => {
    block = { rows: { bar: [], chord: [], count: [], pick: [], left: [], hold: [] }, strings: [] };
    blocks.push(block);
    return block;
  };
  for (const line of lines) {
    const text = line.text;
    if (text.trim() === "" || text.startsWith(";")) {
      lastRow = undefined;
      continue;
    }
    const name = ROW.exec(text)?.[1] as RowName | undefined;
    if (STRING_LINE.test(text)) {
      const home = block && block.strings.length < 6 ? block : open();
      home.strings.push(line);
      lastRow = undefined;
    } else if (name !== undefined) {
      const isAbove = name === "bar" || name === "chord" || name === "count";
      const home = block && !(isAbove && block.strings.length > 0) ? block : open();
      home.rows[name].push({ ...line, text: " ".repeat(name.length) + text.slice(name.length) });
      lastRow = name;
    } else if (block && lastRow && /^\s{2,}\S/.test(text)) block.rows[lastRow].push(line);
    else
      findings.push(
        oddText(
          "text-line",
          0,
          `${placeName(line, 0)}: "${text.trim().slice(0, 60)}" is not part of the music and was not read`,
          "Keep remarks in the header, as remark: …",
        ),
      );
  }
  return blocks.filter((b) => b.strings.length > 0 || Object.values(b.rows).some((r) => r.length > 0));
}

function readBlocks(header: Header, blocks: readonly Block[], findings: Finding[]): Sheet {
  const notes: SheetNote[] = [];
  const chords: SheetChord[] = [];
  const barLines: { bar: number; stretch: Stretch }[] = [];
  const holds: TextLine[] = [];
  const fullTicks = header.meter.beats * BEAT_TICKS;
  const pickupTicks = Math.min(fullTicks, Math.round(header.pickupBeats * BEAT_TICKS));
  let bar = pickupTicks > 0 ? 0 : 1;
  for (const block of blocks) {
    checkBlock(block);
    const { bars, reference } = systemBars(block.strings);
    for (const [k, stretch] of reference.entries()) {
      const ticksOfBar = bar === 0 ? pickupTicks : fullTicks;
      const columns = columnsOf(block, stretch, bar, fullTicks, ticksOfBar);
      const place = { header, bar, ticksOfBar, columns, stretch };
      const inBar = readStrings(place, block.strings, bars[k] ?? [], findings);
      readLetters(place, block.rows.pick, block.rows.left, inBar, findings);
      notes.push(...inBar);
      chords.push(...chordsOf(block.rows.chord, stretch, reference[k + 1], k === 0, bar, columns));
      barLines.push({ bar, stretch });
      bar++;
    }
    holds.push(...block.rows.hold);
  }
  applyHolds(header, holds, notes, findings);
  const barCount = Math.max(0, bar - 1);
  return {
    title: header.title,
    composer: header.composer,
    tuningName: header.tuningName,
    openMidi: header.openMidi,
    capo: header.capo,
    grid: {
      tempoBpm: header.tempoBpm,
      tempoFrom: header.tempoFrom,
      meter: header.meter,
      feel: header.feel,
      swingRatio: header.swingRatio,
      beatSec: [],
      firstBeatSec: 0,
      barCount,
      pickupBeats: pickupTicks / BEAT_TICKS,
      countInBeats: 0,
      confidence: header.rhythm === "none" ? 0 : 1,
      readings: [],
    },
    notes: sortedNotes(notes),
    chords,
    ...(header.mode === undefined ? {} : { mode: header.mode }),
    ...(header.pattern === undefined ? {} : { pattern: header.pattern }),
    form: header.form,
    repeats: header.repeats.length > 0 ? header.repeats : bodyRepeats(barLines),
    groupOfBar: [],
    findings: [],
    ...(header.rhythm === undefined ? {} : { rhythm: header.rhythm }),
    ...(header.showLeftHand ? { showLeftHand: true } : {}),
    ...(header.remarks.length > 0 ? { remarks: header.remarks } : {}),
  };
}

function checkBlock(block: Block): void {
  const line = block.strings.at(-1) ?? Object.values(block.rows).flat()[0];
  if (block.strings.length !== 6 && line)
    throw new PulgarError(
      "bad-tab",
      `${placeName(line, 0)}: a system of ${block.strings.length} string lines; want six`,
      "Every system needs its six lines, string 1 at the top.",
    );
}

/** The columns of a bar from the count over it. */
function columnsOf(
  block: Block,
  stretch: Stretch,
  bar: number,
  fullTicks: number,
  ticksOfBar: number,
): Columns {
  const line = block.rows.count[0];
  if (!line) {
    const [first] = block.strings;
    throw new PulgarError(
      "bad-tab",
      `${first ? placeName(first, 0) : "line 1"}: bar ${bar} has no count over it`,
      'Put back the row that begins with "count", such as: count 1 + 2 + 3 + 4 +',
    );
  }
  const signs = [...line.text.matchAll(/[^\s|]+/g)].filter(
    (m) => m.index >= stretch.start && m.index < stretch.end,
  );
  const offset = fullTicks - ticksOfBar;
  const ticks = ticksOfCount(
    signs.map((m) => m[0]),
    offset,
  );
  const beats = fullTicks / BEAT_TICKS;
  if (
    !ticks ||
    ticks.length === 0 ||
    (ticks.at(-1) ?? 0) < fullTicks - BEAT_TICKS ||
    (ticks.at(-1) ?? 0) >= fullTicks
  )
    throw new PulgarError(
      "bad-tab",
      `${placeName(line, signs[0]?.index ?? stretch.start)}: bar ${bar}: found "${signs.map((m) => m[0]).join(" ")}"; ` +
        `want beats ${Math.floor(offset / BEAT_TICKS) + 1} to ${beats}, each divided in 1, 2, 3, 4, 6, 8, 12 or 24`,
      "Mend the count over that bar; it must stand between the bar's two bar lines.",
    );
  return { at: signs.map((m) => m.index - stretch.start), ticks: ticks.map((t) => t - offset) };
}

/** Chords whose symbol begins over this bar (what stands before the first bar belongs to it). */
function chordsOf(
  rows: readonly TextLine[],
  stretch: Stretch,
  next: Stretch | undefined,
  isFirst: boolean,
  bar: number,
  columns: Columns,
): SheetChord[] {
  const from = isFirst ? 0 : stretch.start - 1;
  const to = next ? next.start - 1 : Number.POSITIVE_INFINITY;
  const chords: SheetChord[] = [];
  for (const line of rows)
    for (const match of line.text.matchAll(/\S+/g)) {
      if (match.index < from || match.index >= to) continue;
      const tick = columns.ticks[nearestColumn(match.index - stretch.start, columns.at)] ?? 0;
      const isUnsure = match[0].length > 1 && match[0].endsWith("?");
      const symbol = isUnsure ? match[0].slice(0, -1) : match[0];
      chords.push({
        bar,
        beat: 1 + tick / BEAT_TICKS,
        symbol,
        ...rootAndBass(symbol),
        confidence: isUnsure ? 0.5 : 1,
        alternatives: [],
        by: isUnsure ? "machine" : "hand",
      });
    }
  return chords;
}
