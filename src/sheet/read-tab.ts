/** Six-line tab from elsewhere → Sheet, as far as it makes sense.
 * In: lines of a text without our header. Out: a sheet and findings that name the rest by line and column.
 * Method: systems of six lines; bars between bar lines; notes in one column sound together. Where a row counts beats over every bar the rhythm is read from it;
 * else only the order is known (`rhythm: "none"`), and ticks are a guess from the spacing. Tuning from the letters before the lines; capo, tempo and meter where they are said.
 * Cannot: bends, vibrato and other signs without a place in a sheet; rhythm from letters or stems over the lines. */
import { PulgarError } from "../base/errors.js";
import type { Finding } from "../base/finding.js";
import { mod } from "../base/numbers.js";
import { parseNote, pitchClassOf } from "../theory/pitch.js";
import { parseTuning, tuningName } from "../theory/tuning.js";
import { BEAT_TICKS } from "./bar-time.js";
import { rootAndBass } from "./chord-name.js";
import { ticksOfCount } from "./count-row.js";
import { bodyRepeats } from "./read-bar-lines.js";
import { type Header, plainHeader, type TextLine } from "./read-header.js";
import { type BarPlace, type Columns, readLetters, readStrings, sortedNotes } from "./read-notes.js";
import type { Sheet, SheetChord, SheetNote } from "./sheet.js";
import { nearestColumn, oddText, placeName, type Stretch } from "./tab-lines.js";
import { columnsBySpacing } from "./tab-spacing.js";
import { looseBars, plainLine, type TabSystem, tabSystems } from "./tab-systems.js";

/** Open strings of standard tuning, string 1 first: E4 B3 G3 D3 A2 E2. */
const STANDARD = [64, 59, 55, 50, 45, 40];
/** Lines of other text that are named one by one; a page of words is not. */
const MOST_NAMED_LINES = 20;

type TabBar = { system: TabSystem; strings: TextLine[]; stretches: Stretch[]; stretch: Stretch };

/** @throws PulgarError "bad-tab" when there is no system of six lines, or no note on them */
export function sheetFromTab(lines: readonly TextLine[]): { sheet: Sheet; findings: Finding[] } {
  const { systems, others, findings, stringLineCount } = tabSystems(lines);
  if (systems.length === 0) {
    const first = lines.find((line) => line.text.trim() !== "");
    throw new PulgarError(
      "bad-tab",
      `${first ? placeName(first, 0) : "line 1, column 1"}: no system of six string lines; ${stringLineCount} string lines found`,
      "Six-line tab has one line of dashes and fret numbers for each string. Is this the right file?",
    );
  }
  const header = plainHeader();
  readWords(header, others, findings);
  readTuning(header, systems, findings);
  const bars = systems.flatMap((system) => barsOf(system, findings));
  const columns = rhythmOf(bars, header);
  const notes: SheetNote[] = [];
  const chords: SheetChord[] = [];
  const ticksOfBar = header.meter.beats * BEAT_TICKS;
  const inColumns = new Map<string, Finding>();
  for (const [idx, tabBar] of bars.entries()) {
    const bar = idx + 1;
    const place: BarPlace = {
      header,
      bar,
      ticksOfBar,
      columns: columns.bars[idx] ?? { at: [0], ticks: [0] },
      stretch: tabBar.stretch,
    };
    const own: Finding[] = [];
    const inBar = readStrings(place, tabBar.strings, tabBar.stretches, own);
    for (const finding of own) gather(finding, inColumns);
    readLetters(place, tabBar.system.picks, [], inBar, findings);
    notes.push(...inBar);
    chords.push(...chordsOver(tabBar, bar, place.columns));
  }
  findings.push(...[...inColumns.values()]);
  if (notes.length === 0) {
    const line = systems[0]?.strings[0];
    throw new PulgarError(
      "bad-tab",
      `${line ? placeName(line, 0) : "line 1"}: six lines, but no fret number on any of them`,
      "Frets are written as numbers on the lines.",
    );
  }
  settleTies(notes);
  return { sheet: sheetOf(header, notes, chords, bars, columns.isKnown), findings };
}

/** The same trouble many times is said once, at its first place. */
function gather(finding: Finding, seen: Map<string, Finding>): void {
  if (finding.rule === "text-columns") return; // spacing of such tab means little
  const what = finding.message.replace(/^line \d+, column \d+: /, "");
  const known = seen.get(what);
  if (!known) seen.set(what, finding);
}

/** Title, capo, tempo, meter and tuning where the words around the tab say them. */
function readWords(header: Header, others: readonly TextLine[], findings: Finding[]): void {
  let named = 0;
  for (const line of others) {
    const text = line.text.trim();
    const capo = /\bcapo\b\D{0,12}(\d{1,2})(?!\d)/i.exec(text);
    const tempo = /\b(?:tempo|bpm)\b\D{0,8}(\d{2,3})\b|\b(\d{2,3})\s*bpm\b/i.exec(text);
    const meter = /\b(?:time|meter|metre)\b\D{0,20}(\d{1,2})\/(2|4|8|16)\b/i.exec(text);
    const tuning = /\btuning\b\s*[:=]?\s*(.+)$/i.exec(text);
    const title = /^title\s*[:=]\s*(.+)$/i.exec(text);
    if (capo && Number(capo[1]) <= 24) header.capo = Number(capo[1]);
    if (tempo) {
      header.tempoBpm = Math.max(20, Number(tempo[1] ?? tempo[2]));
      header.tempoFrom = "user";
    }
    if (meter && Number(meter[1]) >= 1 && Number(meter[1]) <= 64)
      header.meter = { beats: Number(meter[1]), unit: Number(meter[2]) };
    const told = tuning && tuningOf(tuning[1] ?? "");
    if (told) {
      header.tuningName = told.name;
      header.openMidi = told.openMidi;
    }
    if (title) header.title = title[1]?.trim() ?? "";
    if (capo || tempo || meter || told || title) continue;
    if (line === others[0] && text.length <= 80 && header.title === "") {
      header.title = text;
      continue;
    }
    if (named++ < MOST_NAMED_LINES)
      findings.push({
        ...oddText(
          "tab-words",
          0,
          `${placeName(line, 0)}: "${text.slice(0, 60)}" was not read as music`,
          "Words are not kept; put them into a remark of the sheet.",
        ),
        level: "note",
      });
  }
}

/** A tuning in words or notes; undefined where it is none. */
function tuningOf(text: string): { name: string; openMidi: number[] } | undefined {
  try {
    return parseTuning(
      text
        .trim()
        .replace(/[.;)\]]+$/, "")
        .toLowerCase()
        .replace(/\s+tuning$/, ""),
    );
  } catch (e) {
    if (!(e instanceof PulgarError)) throw e;
  }
  const notes = text
    .trim()
    .split(/[\s,-]+/)
    .map(parseNote);
  const known = notes.filter((n) => n !== undefined);
  return known.length === 6 && notes.length === 6 ? { name: tuningName(known), openMidi: known } : undefined;
}

/** Tuning from the letters before the lines, each string as near to standard as its letter allows; a system upside down is turned. */
function readTuning(header: Header, systems: readonly TabSystem[], findings: Finding[]): void {
  const labels = systems.find((s) => s.labels.every((l) => l !== ""))?.labels;
  if (!labels) return;
  const classes = labels.map((l) => pitchClassOf(l.charAt(0).toUpperCase() + l.slice(1)));
  const cost = (order: readonly (number | undefined)[]): number =>
    order.reduce<number>(
      (sum, pc, k) => sum + Math.abs(toNearest(pc ?? 0, STANDARD[k] ?? 0) - (STANDARD[k] ?? 0)),
      0,
    );
  const turned = [...classes].reverse();
  const isTurned =
    cost(turned) < cost(classes) ||
    (cost(turned) === cost(classes) && labels[5] === "e" && labels[0] === "E");
  if (isTurned) {
    for (const system of systems) {
      system.strings.reverse();
      system.labels.reverse();
    }
    const line = systems[0]?.strings[5];
    findings.push(
      oddText(
        "tab-turned",
        0,
        `${line ? placeName(line, 0) : "line 1"}: the lowest string stands on top; the lines were turned over`,
        "Check that the notes are the right ones.",
      ),
    );
  }
  const order = isTurned ? turned : classes;
  const openMidi = order.map((pc, k) => toNearest(pc ?? 0, STANDARD[k] ?? 0)).reverse();
  header.openMidi = openMidi;
  header.tuningName = tuningName(openMidi);
}

/** The pitch of a class that is nearest to `midi`, the lower of two. */
const toNearest = (pitchClass: number, midi: number): number => {
  const up = mod(pitchClass - midi, 12);
  return up >= 6 ? midi + up - 12 : midi + up;
};

function barsOf(system: TabSystem, findings: Finding[]): TabBar[] {
  const strings = system.strings.map(plainLine);
  const { bars, reference, uneven } = looseBars(strings);
  for (const line of uneven)
    findings.push(
      oddText(
        "tab-bars",
        0,
        `${placeName(line, 0)}: this string has other bar lines than the rest; it was cut where they are cut`,
        "Give the six lines the same bar lines.",
      ),
    );
  return reference.map((stretch, k) => ({ system, strings, stretches: bars[k] ?? [], stretch }));
}

/** The columns of every bar: from the counts where every bar has one, else from the spacing. Sets the meter of the header. */
function rhythmOf(bars: readonly TabBar[], header: Header): { bars: Columns[]; isKnown: boolean } {
  const counted = bars.map((bar) => countedColumns(bar));
  const beats = counted.map((c) => (c ? Math.floor((c.ticks.at(-1) ?? 0) / BEAT_TICKS) + 1 : 0));
  const most = beats.reduce((max, b) => Math.max(max, b), 0);
  if (bars.length > 0 && most > 0 && beats.every((b) => b === most)) {
    if (header.meter.beats !== most)
      header.meter = { beats: most, unit: most === 6 || most === 9 || most === 12 ? 8 : 4 };
    return { bars: counted.map((c) => c ?? { at: [0], ticks: [0] }), isKnown: true };
  }
  const spaced = columnsBySpacing(bars, header.meter);
  header.meter = spaced.meter;
  return { bars: spaced.bars, isKnown: false };
}

function countedColumns(bar: TabBar): Columns | undefined {
  const line = bar.system.count;
  if (!line) return undefined;
  const signs = [...line.text.matchAll(/[^\s|]+/g)].filter(
    (m) => m.index >= bar.stretch.start - 1 && m.index < bar.stretch.end,
  );
  const ticks = ticksOfCount(
    signs.map((m) => m[0]),
    0,
  );
  if (!ticks || ticks.length === 0) return undefined;
  return { at: signs.map((m) => m.index - bar.stretch.start), ticks };
}

function chordsOver(tabBar: TabBar, bar: number, columns: Columns): SheetChord[] {
  const line = tabBar.system.chords;
  if (!line) return [];
  const { start, end } = tabBar.stretch;
  const chords: SheetChord[] = [];
  for (const match of line.text.matchAll(/[^\s|]+/g)) {
    if (match.index < start - 1 || match.index >= end) continue;
    const tick = columns.ticks[nearestColumn(match.index - start, columns.at)] ?? 0;
    const symbol = /^N\.?C\.?$/.test(match[0]) ? "N.C." : match[0].replace(/\?$/, "");
    const beat = 1 + tick / BEAT_TICKS;
    if (chords.some((c) => c.beat === beat)) continue;
    chords.push({ bar, beat, symbol, ...rootAndBass(symbol), confidence: 1, alternatives: [], by: "hand" });
  }
  return chords;
}

/** A number in brackets is a tie where the string sounds that fret already; else a soft note, which is a note. */
function settleTies(notes: readonly SheetNote[]): void {
  const sounding = new Map<number, number>();
  for (const note of sortedNotes(notes)) {
    if (note.marks.includes("tie") && sounding.get(note.string) !== note.fret)
      note.marks = note.marks.filter((m) => m !== "tie");
    sounding.set(note.string, note.fret);
  }
}

function sheetOf(
  header: Header,
  notes: readonly SheetNote[],
  chords: SheetChord[],
  bars: readonly TabBar[],
  isKnown: boolean,
): Sheet {
  return {
    title: header.title,
    composer: "",
    tuningName: header.tuningName,
    openMidi: header.openMidi,
    capo: header.capo,
    grid: {
      tempoBpm: header.tempoBpm,
      tempoFrom: header.tempoFrom,
      meter: header.meter,
      feel: "straight",
      swingRatio: 1,
      beatSec: [],
      firstBeatSec: 0,
      barCount: bars.length,
      pickupBeats: 0,
      countInBeats: 0,
      confidence: isKnown ? 1 : 0,
      readings: [],
    },
    notes: sortedNotes(notes),
    chords,
    form: [],
    repeats: bodyRepeats(bars.map(({ stretch }, idx) => ({ bar: idx + 1, stretch }))),
    groupOfBar: [],
    findings: [],
    ...(isKnown ? {} : { rhythm: "none" as const }),
  };
}
