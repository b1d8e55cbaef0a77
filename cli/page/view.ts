/** Sheet → what the page shows: every note with its seconds, its pitch name and its words. */
import { tickToBeat } from "../../src/base/playback.js";
import type { CheckReport, Difference } from "../../src/check/report.js";
import { barTicks, pickupTicks, writtenBars } from "../../src/sheet/bar-time.js";
import { beatsText } from "../../src/sheet/beats-text.js";
import { stringNames } from "../../src/sheet/note-name.js";
import type { Sheet, SheetNote } from "../../src/sheet/sheet.js";
import { isUnsure } from "../../src/sheet/token.js";
import { noteInKey } from "../../src/theory/scale.js";
import type { PageBar, PageCheck, PageNote, PageSheet } from "./view-types.js";

const STEP_TICKS = 3; // an eighth of a beat: between two of them time runs evenly

/** Place of a note as text: unique within a sheet, for grace notes too. */
const noteId = (note: Pick<SheetNote, "bar" | "tick" | "string" | "marks">): string =>
  `${note.bar}:${note.tick}:${note.string}${note.marks.includes("grace") ? "g" : ""}`;

/** Seconds of a place; beats that the recording does not give run on in tempo. */
export function secOf(sheet: Sheet, bar: number, tick: number): number {
  const { grid } = sheet;
  const beat = tickToBeat(tick, grid);
  const wanted = bar === 0 ? beat - pickupTicks(sheet) / 24 : (bar - 1) * grid.meter.beats + beat;
  return beatSec(sheet, wanted);
}

function beatSec(sheet: Sheet, beat: number): number {
  const { beatSec: beats, tempoBpm, firstBeatSec } = sheet.grid;
  const steady = 60 / tempoBpm;
  if (beats.length < 2) return firstBeatSec + beat * steady;
  const idx = Math.max(0, Math.min(beats.length - 2, Math.floor(beat)));
  const from = beats[idx] ?? 0;
  const to = beats[idx + 1] ?? from;
  if (beat < 0) return from + beat * (to - from);
  return from + (beat - idx) * (to - from);
}

function pageBar(sheet: Sheet, bar: number): PageBar {
  const ticks = barTicks(sheet, bar);
  const tickSec: number[] = [];
  for (let tick = 0; tick <= ticks; tick += STEP_TICKS) tickSec.push(round(secOf(sheet, bar, tick)));
  return { bar, ticks, startSec: tickSec[0] ?? 0, endSec: round(secOf(sheet, bar, ticks)), tickSec };
}

const round = (sec: number): number => Math.round(sec * 1e4) / 1e4;

/** All that the page draws of a sheet. @param durationSec of the recording, 0 when there is none */
export function pageSheet(sheet: Sheet, durationSec: number): PageSheet {
  const bars = writtenBars(sheet).map((bar) => pageBar(sheet, bar));
  const endSec = bars.at(-1)?.endSec ?? 0;
  return {
    title: sheet.title,
    openMidi: sheet.openMidi,
    stringNames: stringNames(sheet.openMidi),
    capo: sheet.capo,
    tempoBpm: sheet.grid.tempoBpm,
    tempoFrom: sheet.grid.tempoFrom,
    meter: sheet.grid.meter,
    feel: sheet.grid.feel,
    swingRatio: sheet.grid.swingRatio,
    firstBeatSec: round(bars.find((b) => b.bar === 1)?.startSec ?? sheet.grid.firstBeatSec),
    durationSec: Math.max(durationSec, endSec + 0.5),
    modeText: sheet.mode ? `${sheet.mode.tonic} ${sheet.mode.mode}` : "",
    hasRhythm: sheet.rhythm !== "none",
    bars,
    notes: sheet.notes.map((note) => pageNote(sheet, note)),
    chords: sheet.chords.map((c) => ({
      bar: c.bar,
      beat: c.beat,
      symbol: c.symbol,
      alternatives: c.alternatives,
      confidence: c.confidence,
      by: c.by,
      startSec: round(secOf(sheet, c.bar, Math.round((c.beat - 1) * 24))),
    })),
    groupOfBar: sheet.groupOfBar,
    findings: sheet.findings,
  };
}

function pageNote(sheet: Sheet, note: SheetNote): PageNote {
  const startSec = secOf(sheet, note.bar, note.tick);
  const endSec = secOf(sheet, note.bar, note.tick + note.lengthTicks);
  return {
    id: noteId(note),
    bar: note.bar,
    tick: note.tick,
    lengthTicks: note.lengthTicks,
    string: note.string,
    fret: note.fret,
    midi: note.midi,
    pitch: noteInKey(note.midi, sheet.mode),
    beatText: beatsText(note.tick + 24),
    ...(note.finger === undefined ? {} : { finger: note.finger }),
    ...(note.leftFinger === undefined ? {} : { leftFinger: note.leftFinger }),
    marks: note.marks,
    by: note.by,
    confidence: note.confidence,
    isUnsure: isUnsure(note),
    alternatives: note.alternatives,
    startSec: round(startSec),
    endSec: round(Math.max(endSec, startSec + 0.03)),
  };
}

/** The check's report in the page's words. @param version of the sheet that was checked */
export function pageCheck(report: CheckReport, sheet: Sheet, version: string): PageCheck {
  return {
    kind: "done",
    version,
    verdicts: report.bars,
    differences: report.differences.map((d) => ({
      kind: d.kind,
      bar: d.bar,
      text: differenceText(d, sheet),
      ...(d.string === undefined ? {} : { string: d.string }),
      ...(d.onsetSec === undefined ? {} : { startSec: d.onsetSec }),
    })),
  };
}

function differenceText(d: Difference, sheet: Sheet): string {
  const at = `beat ${d.beat}${d.string === undefined ? "" : `, string ${d.string}`}`;
  const written = d.writtenMidi === undefined ? "" : noteInKey(d.writtenMidi, sheet.mode);
  const played = d.playedMidi === undefined ? "" : noteInKey(d.playedMidi, sheet.mode);
  const sure = `${Math.round(d.confidence * 100)} % sure`;
  switch (d.kind) {
    case "missing":
      return `${at}: ${written} is written and not heard (${sure})`;
    case "extra":
      return `${at}: ${played} is heard and not written (${sure})`;
    case "wrong-pitch":
      return `${at}: ${written} is written, ${played} is heard${d.playedFret === undefined ? "" : `: fret ${d.playedFret}`} (${sure})`;
    default:
      return `${at}: ${d.kind} by ${Math.abs(Math.round(d.offMs ?? 0))} ms (${sure})`;
  }
}
