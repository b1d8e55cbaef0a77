/** The JSON document `pulgar.sheet` → Sheet. In: parsed JSON of unknown make. Out: a checked sheet; further in nothing is checked again.
 * A document of the fixed names alone is read too: tick from beat, plain lengths, no marks. */
import type { Finding } from "../base/finding.js";
import { BEAT_TICKS, barTicks, compareNotes, plainLength } from "./bar-time.js";
import {
  type At,
  either,
  isAbsent,
  listOf,
  member,
  numberOf,
  oneOf,
  optional,
  refuse,
  textOf,
  wholeOf,
} from "./door.js";
import { modeOf } from "./read-mode-json.js";
import type {
  NoteMark,
  Pattern,
  PatternHit,
  Repeat,
  Sheet,
  SheetChord,
  SheetGrid,
  SheetNote,
} from "./sheet.js";

/** Bounds of a document; far above any study, low enough to stay small in memory. */
const SHEET_BOUNDS = Object.freeze({
  bars: 20_000,
  notes: 200_000,
  beats: 500_000,
  beatsInBar: 64,
  list: 20_000,
  sec: 100_000,
  fret: 36, // three octaves: longer than any neck
});

const MARKS: readonly NoteMark[] = [
  "hammer-on",
  "pull-off",
  "slide",
  "grace",
  "tie",
  "let-ring",
  "dead",
  "harmonic",
];
const HAND_SET = ["title", "composer", "grid", "mode", "form", "repeats"] as const;
const FINGERS = ["p", "i", "m", "a"] as const;
const MAKERS = ["machine", "hand"] as const;

const B = SHEET_BOUNDS;
const secOf = (at: At): number => numberOf(at, -B.sec, B.sec);
const shareOf = (at: At): number => numberOf(at, 0, 1);
const barOf = (at: At): number => wholeOf(at, 0, B.bars);
const barsOf = (at: At): number[] => listOf(at, B.list, barOf);
const stringOf = (at: At): number => wholeOf(at, 1, 6);
const fretOf = (at: At): number => wholeOf(at, 0, B.fret);
const midiOf = (at: At): number => wholeOf(at, 0, 127);

/** @throws PulgarError "bad-sheet" naming the path that is wrong */
export function readSheetJson(value: unknown): Sheet {
  const top: At = { value, path: "" };
  const format = member(top, "format");
  if (format.value !== "pulgar.sheet") refuse(format, '"pulgar.sheet"');
  const version = member(top, "version");
  if (version.value !== 1) refuse(version, "1, the version that this program reads");
  const tuning = member(top, "tuning");
  const openAt = member(tuning, "openMidi");
  const openMidi = listOf(openAt, 6, midiOf);
  if (openMidi.length !== 6) refuse(openAt, "six numbers, string 6 to 1");
  const read = <T>(name: string, reader: (at: At) => T, otherwise: T): T =>
    either(member(top, name), reader, otherwise);
  const sheet: Sheet = {
    title: read("title", textOf, ""),
    composer: read("composer", textOf, ""),
    tuningName: either(member(tuning, "name"), textOf, "own"),
    openMidi,
    capo: read("capo", (at) => wholeOf(at, 0, 24), 0),
    ...optional(top, "take", (at) => ({
      file: textOf(member(at, "file")),
      durationSec: numberOf(member(at, "durationSec"), 0, B.sec),
      sampleRateHz: numberOf(member(at, "sampleRateHz"), 1, 1_000_000),
      tuningCents: numberOf(member(at, "tuningCents"), -1200, 1200),
    })),
    grid: gridOf(member(top, "grid")),
    notes: [],
    chords: read("chords", (at) => listOf(at, B.list, chordOf), []),
    ...optional(top, "mode", modeOf),
    ...optional(top, "pattern", patternOf),
    form: read(
      "form",
      (at) =>
        listOf(at, B.list, (p) => ({ label: textOf(member(p, "label")), bars: barsOf(member(p, "bars")) })),
      [],
    ),
    repeats: read("repeats", (at) => listOf(at, B.list, repeatOf), []),
    groupOfBar: read("groupOfBar", (at) => listOf(at, B.bars, (g) => wholeOf(g, -1, B.bars)), []),
    findings: read("findings", (at) => listOf(at, B.list, findingOf), []),
    ...optional(top, "rhythm", (at) => oneOf(at, ["none"] as const)),
    ...optional(top, "removed", (at) =>
      listOf(at, B.notes, (r) => ({
        bar: barOf(member(r, "bar")),
        tick: wholeOf(member(r, "tick"), 0, B.beatsInBar * BEAT_TICKS),
        midi: midiOf(member(r, "midi")),
      })),
    ),
    ...optional(top, "removedChords", (at) =>
      listOf(at, B.list, (r) => ({
        bar: barOf(member(r, "bar")),
        beat: numberOf(member(r, "beat"), 1, B.beatsInBar + 1),
      })),
    ),
    ...optional(top, "handSet", (at) => listOf(at, 20, (x) => oneOf(x, HAND_SET))),
    ...optional(top, "showLeftHand", (at) => at.value === true),
    ...optional(top, "remarks", (at) => listOf(at, 1000, textOf)),
  };
  sheet.notes = listOf(member(top, "notes"), B.notes, noteOf);
  finishNotes(sheet);
  return sheet;
}

/** Orders notes that are not in order, and gives lengths to those that have none. */
function finishNotes(sheet: Sheet): void {
  const { notes } = sheet;
  const isOrdered = notes.every((n, k) => k === 0 || compareNotes(notes[k - 1] ?? n, n) <= 0);
  if (!isOrdered) sheet.notes = [...notes].sort(compareNotes);
  const onString = new Map<string, SheetNote[]>();
  for (const note of notes) {
    const key = `${note.bar} ${note.string}`;
    const list = onString.get(key);
    if (list) list.push(note);
    else onString.set(key, [note]);
  }
  for (const [idx, note] of notes.entries()) {
    const most = barTicks(sheet, note.bar);
    if (note.tick >= most)
      refuse({ value: note.tick, path: `notes[${idx}].tick` }, `a tick within the bar, 0 to ${most - 1}`);
    if (note.lengthTicks === 0)
      note.lengthTicks = plainLength(note, onString.get(`${note.bar} ${note.string}`) ?? [], most);
  }
}

function gridOf(at: At): SheetGrid {
  const meter = member(at, "meter");
  const unit = wholeOf(member(meter, "unit"), 1, 32);
  if (![1, 2, 4, 8, 16, 32].includes(unit)) refuse(member(meter, "unit"), "1, 2, 4, 8, 16 or 32");
  const beats = wholeOf(member(meter, "beats"), 1, B.beatsInBar);
  const beatSec = either(member(at, "beatSec"), (b) => listOf(b, B.beats, secOf), []);
  const read = <T>(name: string, reader: (x: At) => T, otherwise: T): T =>
    either(member(at, name), reader, otherwise);
  return {
    tempoBpm: numberOf(member(at, "tempoBpm"), 1, 2000),
    tempoFrom: read("tempoFrom", (x) => oneOf(x, ["user", "estimated"] as const), "estimated"),
    meter: { beats, unit },
    feel: read("feel", (x) => oneOf(x, ["straight", "swing"] as const), "straight"),
    swingRatio: read("swingRatio", (x) => numberOf(x, 1, 10), 1),
    beatSec,
    firstBeatSec: read("firstBeatSec", secOf, beatSec[0] ?? 0),
    barCount: read("barCount", barOf, Math.max(0, Math.floor((beatSec.length - 1) / beats))),
    pickupBeats: read("pickupBeats", (x) => numberOf(x, 0, beats), 0),
    countInBeats: read("countInBeats", (x) => numberOf(x, 0, 1000), 0),
    confidence: read("confidence", shareOf, 1),
    readings: read(
      "readings",
      (x) =>
        listOf(x, 100, (r) => ({
          tempoBpm: numberOf(member(r, "tempoBpm"), 1, 2000),
          meter: {
            beats: wholeOf(member(member(r, "meter"), "beats"), 1, B.beatsInBar),
            unit: wholeOf(member(member(r, "meter"), "unit"), 1, 32),
          },
          confidence: shareOf(member(r, "confidence")),
          why: textOf(member(r, "why")),
        })),
      [],
    ),
  };
}

function noteOf(at: At): SheetNote {
  const tickAt = member(at, "tick");
  const tick = isAbsent(tickAt)
    ? Math.round((numberOf(member(at, "beat"), 1, B.beatsInBar + 1) - 1) * BEAT_TICKS)
    : wholeOf(tickAt, 0, B.beatsInBar * BEAT_TICKS);
  return {
    bar: barOf(member(at, "bar")),
    tick,
    lengthTicks: either(member(at, "lengthTicks"), (x) => wholeOf(x, 1, 1_000_000), 0),
    string: stringOf(member(at, "string")),
    fret: fretOf(member(at, "fret")),
    midi: midiOf(member(at, "midi")),
    ...optional(at, "finger", (x) => oneOf(x, FINGERS)),
    ...optional(at, "leftFinger", (x) => wholeOf(x, 0, 4) as 0 | 1 | 2 | 3 | 4),
    marks: either(member(at, "marks"), (x) => listOf(x, 20, (m) => oneOf(m, MARKS)), []),
    by: either(member(at, "by"), (x) => oneOf(x, MAKERS), "machine"),
    confidence: either(member(at, "confidence"), shareOf, 1),
    alternatives: either(
      member(at, "alternatives"),
      (x) =>
        listOf(x, 100, (p) => ({ string: stringOf(member(p, "string")), fret: fretOf(member(p, "fret")) })),
      [],
    ),
    ...optional(at, "onsetSec", secOf),
    ...optional(at, "offsetSec", secOf),
    ...optional(at, "velocity", (x) => numberOf(x, 0, 127)),
  };
}

function chordOf(at: At): SheetChord {
  return {
    ...optional(at, "startSec", secOf),
    ...optional(at, "endSec", secOf),
    bar: barOf(member(at, "bar")),
    beat: numberOf(member(at, "beat"), 1, B.beatsInBar + 1),
    symbol: textOf(member(at, "symbol")),
    root: either(member(at, "root"), textOf, ""),
    bass: either(member(at, "bass"), textOf, ""),
    confidence: either(member(at, "confidence"), shareOf, 1),
    alternatives: either(member(at, "alternatives"), (x) => listOf(x, 100, textOf), []),
    by: either(member(at, "by"), (x) => oneOf(x, MAKERS), "machine"),
  };
}

const hitsOf = (at: At): PatternHit[] =>
  listOf(at, 1000, (h) => ({
    beat: numberOf(member(h, "beat"), 0, B.beatsInBar + 1),
    finger: oneOf(member(h, "finger"), FINGERS),
    string: stringOf(member(h, "string")),
  }));

function patternOf(at: At): Pattern {
  return {
    beats: numberOf(member(at, "beats"), 0, B.beatsInBar),
    hits: hitsOf(member(at, "hits")),
    bars: barsOf(member(at, "bars")),
    departures: either(
      member(at, "departures"),
      (x) =>
        listOf(x, B.list, (d) => ({
          bar: barOf(member(d, "bar")),
          missing: either(member(d, "missing"), hitsOf, []),
          added: either(member(d, "added"), hitsOf, []),
          note: either(member(d, "note"), textOf, ""),
        })),
      [],
    ),
  };
}

function repeatOf(at: At): Repeat {
  return {
    fromBar: barOf(member(at, "fromBar")),
    toBar: barOf(member(at, "toBar")),
    times: wholeOf(member(at, "times"), 1, 99),
    endings: listOf(member(at, "endings"), 99, (e) => ({
      times: listOf(member(e, "times"), 99, (t) => wholeOf(t, 1, 99)),
      bars: barsOf(member(e, "bars")),
    })),
  };
}

const findingOf = (at: At): Finding => ({
  rule: textOf(member(at, "rule")),
  level: oneOf(member(at, "level"), ["error", "warning", "note"] as const),
  bar: barOf(member(at, "bar")),
  message: textOf(member(at, "message")),
  hint: textOf(member(at, "hint")),
});
