/** MusicXML 3.x/4.0, partwise → a sheet where strings and frets are given, else pitches on a grid.
 * In: the text of a score. Out: { kind: "tab", sheet } or { kind: "pitches", … } and findings. The part with the most frets is read, or the first that holds notes.
 * A tie inside a bar is one longer note, a tie over a bar line a note of its own. Attribute `release` lengthens a note's sound.
 * Source: W3C MusicXML 4.0 (schema and element reference). Cannot: meters that change within the piece (bars are cut to the first one, and said),
 * nested repeats, D.C. and coda. */
import { PulgarError } from "../base/errors.js";
import type { Finding } from "../base/finding.js";
import type { Grid, PlacedNote } from "../grid/grid.js";
import type { Lock } from "../hands/fretted.js";
import { BEAT_TICKS, compareNotes, isGrace, midiAt } from "./bar-time.js";
import { headOf, type ScoreHead } from "./musicxml-head.js";
import { readMeasures, type XmlMeasure, type XmlNote } from "./musicxml-notes.js";
import { chordsOf, formOf, repeatsOf } from "./musicxml-signs.js";
import type { FormPart, Repeat, Sheet, SheetChord, SheetNote } from "./sheet.js";
import { oddText } from "./tab-lines.js";
import { child, childrenOf, readXml, type XmlElement } from "./xml-tree.js";

/** What a file of any kind holds: a sheet, or pitches that need strings. chords, repeats and form go with the pitches' bars.
 * @property marks strings and fingers that a player wrote over some of the pitches
 * @property openMidi tuning that the file says, strings 6 → 1 @property capo 0 where it says none */
export type ReadSheet =
  | { kind: "tab"; sheet: Sheet; findings: Finding[] }
  | {
      kind: "pitches";
      title: string;
      composer: string;
      notes: PlacedNote[];
      marks: Lock[];
      grid: Grid;
      chords: SheetChord[];
      repeats: Repeat[];
      form: FormPart[];
      openMidi?: number[];
      capo: number;
      findings: Finding[];
    };

/** A measure's place on the grid of bars. */
export type MeasurePlace = { measure: XmlMeasure; bar: number; offsetTicks: number };

const STANDARD = [40, 45, 50, 55, 59, 64];
const MOST_BARS = 20_000;

/** @throws PulgarError "bad-xml" with line and column, "no-notes" when the score holds none */
export function sheetFromMusicXml(text: string): ReadSheet {
  const root = readXml(text);
  if (root.name !== "score-partwise")
    throw new PulgarError(
      "bad-xml",
      `line ${root.line}, column ${root.column}: <${root.name}>; want <score-partwise>`,
      root.name === "score-timewise" ? "Save the score as partwise MusicXML." : "Is this a MusicXML score?",
    );
  const findings: Finding[] = [];
  const part = choosePart(root, findings);
  const measures = readMeasures(part);
  const head = headOf(root, measures);
  const { places, pickupTicks, barCount } = placeMeasures(measures, head, findings);
  const raw = places.flatMap(({ measure, bar, offsetTicks }) =>
    [...measure.notes]
      .sort((a, b) => a.onsetQuarters - b.onsetQuarters)
      .map((note) => ({ note, bar, offsetTicks })),
  );
  const isTab = raw.some(({ note }) => note.string !== undefined && note.fret !== undefined);
  const notes = joinTies(raw, head, isTab, findings);
  if (notes.length === 0)
    throw new PulgarError("no-notes", "the score holds no notes", "Is this the right file?");
  const signs = {
    chords: chordsOf(places, head),
    repeats: repeatsOf(places),
    form: formOf(places, barCount),
  };
  const pickupBeats = pickupTicks / BEAT_TICKS;
  if (!isTab)
    return {
      kind: "pitches",
      title: head.title,
      composer: head.composer,
      ...pitchesOnGrid(notes, head, barCount, pickupBeats),
      ...signs,
      ...(head.openMidi ? { openMidi: head.openMidi } : {}),
      capo: head.capo,
      findings,
    };
  const sheet: Sheet = {
    title: head.title,
    composer: head.composer,
    tuningName: head.tuningName,
    openMidi: head.openMidi ?? STANDARD,
    capo: head.capo,
    grid: {
      tempoBpm: head.tempoBpm,
      tempoFrom: head.hasTempo ? "user" : "estimated",
      meter: head.meter,
      feel: head.swingRatio > 1 ? "swing" : "straight",
      swingRatio: head.swingRatio,
      beatSec: [],
      firstBeatSec: 0,
      barCount,
      pickupBeats,
      countInBeats: 0,
      confidence: 1,
      readings: [],
    },
    notes,
    ...signs,
    ...(head.mode ? { mode: head.mode } : {}),
    groupOfBar: [],
    findings: [],
  };
  return { kind: "tab", sheet, findings };
}

function choosePart(root: XmlElement, findings: Finding[]): XmlElement {
  const parts = childrenOf(root, "part");
  const noteCount = (part: XmlElement, test: (note: XmlElement) => boolean): number =>
    childrenOf(part, "measure").reduce((sum, m) => sum + childrenOf(m, "note").filter(test).length, 0);
  const hasFret = (note: XmlElement): boolean =>
    childrenOf(note, "notations").some((n) =>
      childrenOf(n, "technical").some((t) => child(t, "fret") !== undefined),
    );
  let best: XmlElement | undefined;
  let bestCount = 0;
  for (const part of parts) {
    const frets = noteCount(part, hasFret);
    if (frets > bestCount) [best, bestCount] = [part, frets];
  }
  best ??= parts.find((p) => noteCount(p, (n) => child(n, "pitch") !== undefined) > 0) ?? parts[0];
  if (!best)
    throw new PulgarError(
      "bad-xml",
      `line ${root.line}, column ${root.column}: the score has no <part>`,
      "Is the file complete?",
    );
  const others = parts.filter((p) => p !== best && noteCount(p, (n) => child(n, "pitch") !== undefined) > 0);
  if (others.length > 0)
    findings.push(
      oddText(
        "other-parts",
        0,
        `line ${best.line}: part ${best.attributes.id ?? ""} was read; ${others.length} other part${others.length === 1 ? "" : "s"} left out`,
        "A sheet holds one guitar; save its part alone if it is another one.",
      ),
    );
  return best;
}

/** Bars for measures: a short first measure is the pick-up (bar 0), a short implicit one goes on within its bar, a long one takes several bars. */
function placeMeasures(
  measures: readonly XmlMeasure[],
  head: ScoreHead,
  findings: Finding[],
): { places: MeasurePlace[]; pickupTicks: number; barCount: number } {
  const barTicks = head.meter.beats * BEAT_TICKS;
  const places: MeasurePlace[] = [];
  let pickupTicks = 0;
  let bar = 0;
  let usedTicks = barTicks; // of the current bar
  for (const [idx, measure] of measures.entries()) {
    const ticks = Math.round(measure.quarters * head.quarterTicks);
    const isPickup = ticks < barTicks ? measure.isImplicit || measures.length > 1 : measure.number === "0";
    if (idx === 0 && ticks > 0 && ticks <= barTicks && isPickup) {
      pickupTicks = ticks;
      places.push({ measure, bar: 0, offsetTicks: 0 });
      continue;
    }
    if (measure.isImplicit && usedTicks < barTicks && usedTicks + ticks <= barTicks && bar > 0) {
      places.push({ measure, bar, offsetTicks: usedTicks });
      usedTicks += ticks;
      continue;
    }
    const bars = Math.max(1, Math.ceil(ticks / barTicks));
    if (measure.meter.beats !== head.meter.beats || measure.meter.unit !== head.meter.unit || bars > 1)
      findings.push(
        oddText(
          "meter-changes",
          bar + 1,
          `measure ${measure.number} is in ${measure.meter.beats}/${measure.meter.unit}; it was set in bars of ${head.meter.beats}/${head.meter.unit}`,
          "A sheet has one meter; check these bars.",
        ),
      );
    places.push({ measure, bar: bar + 1, offsetTicks: 0 });
    usedTicks = ticks - (bars - 1) * barTicks;
    bar += bars;
    if (bar > MOST_BARS)
      throw new PulgarError("too-large", `more than ${MOST_BARS} bars`, "Split the score.");
  }
  return { places, pickupTicks, barCount: bar };
}

/** Sheet notes from written ones. Without strings, string is 0 and fret 0 until hands are found; only their pitch and place are used. */
function joinTies(
  raw: readonly { note: XmlNote; bar: number; offsetTicks: number }[],
  head: ScoreHead,
  isTab: boolean,
  findings: Finding[],
): SheetNote[] {
  const barTicks = head.meter.beats * BEAT_TICKS;
  const places = { openMidi: head.openMidi ?? STANDARD, capo: head.capo };
  const notes: SheetNote[] = [];
  const tied = new Map<string, SheetNote>(); // notes whose tie is open
  const taken = new Map<string, SheetNote>();
  const frettedStaves = new Set(raw.filter((r) => r.note.fret !== undefined).map((r) => r.note.staff));
  let strayCount = 0;
  let strayLine = 0;
  for (const { note: xml, bar: measureBar, offsetTicks } of raw) {
    const { string, fret } = xml;
    const hasPlace = string !== undefined && fret !== undefined;
    const midi = hasPlace ? midiAt(places, string, fret) : xml.midi;
    if (midi === undefined || midi < 0 || midi > 127 || (isTab && !hasPlace)) {
      if (isTab && frettedStaves.has(xml.staff)) {
        strayCount++;
        strayLine ||= xml.line;
      }
      continue;
    }
    const ticks = offsetTicks + Math.round(xml.onsetQuarters * head.quarterTicks);
    const bar = measureBar === 0 ? 0 : measureBar + Math.floor(ticks / barTicks);
    const tick = measureBar === 0 ? ticks : ticks % barTicks;
    // Of a tied note the release may reach back before its last piece.
    const pieceTicks = Math.round((xml.quarters + xml.releaseQuarters) * head.quarterTicks);
    const lengthTicks = Math.max(1, pieceTicks);
    const written = Math.round(xml.quarters * head.quarterTicks);
    const key = hasPlace ? `${string} ${fret}` : `${midi}`;
    const open = xml.tieStop ? tied.get(key) : undefined;
    tied.delete(key);
    if (open && open.bar === bar && !isGrace(open)) {
      open.lengthTicks = Math.max(1, tick + pieceTicks - open.tick);
      if (xml.marks.includes("let-ring") && !open.marks.includes("let-ring")) open.marks.push("let-ring");
      if (xml.tieStart) tied.set(key, open);
      continue;
    }
    const note: SheetNote = {
      bar,
      tick,
      lengthTicks: xml.marks.includes("grace") ? Math.max(1, written) : lengthTicks,
      string: string ?? 0,
      fret: fret ?? 0,
      midi,
      ...(xml.finger === undefined ? {} : { finger: xml.finger }),
      ...(xml.leftFinger === undefined ? {} : { leftFinger: xml.leftFinger }),
      // A tie that comes from nowhere is one into a second ending, or over a bar line of another part.
      marks: xml.tieStop && !xml.marks.includes("grace") ? [...xml.marks, "tie"] : [...xml.marks],
      by: "hand",
      confidence: 1,
      alternatives: [],
    };
    const place = `${bar} ${tick} ${key.split(" ")[0]} ${isGrace(note)}`;
    const twin = taken.get(place);
    if (twin) {
      twin.lengthTicks = Math.max(twin.lengthTicks, note.lengthTicks); // two voices in unison: the longer one sounds on
      continue;
    }
    taken.set(place, note);
    notes.push(note);
    if (xml.tieStart) tied.set(key, note);
    if (hasPlace && xml.midi !== undefined && (xml.midi - midi) % 12 !== 0)
      findings.push(
        oddText(
          "string-fret-pitch",
          bar,
          `line ${xml.line}: string ${string} fret ${fret} sounds ${midi}, the written pitch is ${xml.midi}; the fret was taken`,
          "Check tuning and capo of the score.",
        ),
      );
  }
  if (strayCount > 0)
    findings.push(
      oddText(
        "no-string",
        0,
        `line ${strayLine}: ${strayCount} notes without string and fret were left out`,
        "Give them a string and a fret.",
      ),
    );
  return notes.sort(compareNotes);
}

/** Pitches with steady times, for the fretboard search. */
function pitchesOnGrid(
  notes: readonly SheetNote[],
  head: ScoreHead,
  barCount: number,
  pickupBeats: number,
): { notes: PlacedNote[]; marks: Lock[]; grid: Grid } {
  const beatSec = 60 / head.tempoBpm;
  const { meter } = head;
  const secOf = (bar: number, tick: number): number =>
    bar === 0
      ? (tick / BEAT_TICKS - pickupBeats) * beatSec
      : ((bar - 1) * meter.beats + tick / BEAT_TICKS) * beatSec;
  return {
    notes: notes
      .filter((n) => !n.marks.includes("tie"))
      .map((n) => ({
        onsetSec: secOf(n.bar, n.tick),
        offsetSec: secOf(n.bar, n.tick + n.lengthTicks),
        midi: n.midi,
        confidence: 1,
        velocity: 0.7, // unknown; the middle of ordinary playing
        bar: n.bar,
        tick: n.tick,
        lengthTicks: n.lengthTicks,
        ...(isGrace(n) ? { grace: true } : {}),
      })),
    marks: notes.flatMap(({ bar, tick, midi, string, finger, leftFinger }): Lock[] =>
      string === 0 && finger === undefined && leftFinger === undefined
        ? []
        : [
            {
              bar,
              tick,
              midi,
              ...(string === 0 ? {} : { string }),
              ...(finger === undefined ? {} : { finger }),
              ...(leftFinger === undefined ? {} : { leftFinger }),
            },
          ],
    ),
    grid: {
      beatSec: Array.from({ length: barCount * meter.beats + 1 }, (_, k) => k * beatSec),
      meter,
      tempoBpm: head.tempoBpm,
      tempoFrom: head.hasTempo ? "user" : "estimated",
      feel: head.swingRatio > 1 ? "swing" : "straight",
      swingRatio: head.swingRatio,
      barCount,
      pickupBeats,
      countInBeats: 0,
      confidence: 1,
      readings: [],
    },
  };
}
