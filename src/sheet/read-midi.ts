/** A Standard MIDI File → pitches on a grid. In: bytes. Out: placed notes, grid, title; strings are found by the fretboard search.
 * All tracks and channels are one guitar (channel 10, drums, is left out). Tempo map and first meter are kept; places are rounded to thirty-seconds and
 * thirds of sixteenths. A shorter first meter that changes after its one bar is a pick-up.
 * Source: Standard MIDI Files 1.0 (MIDI Association). Cannot: later changes of meter (said in a finding). */
import { parseMidi } from "midi-file";
import { PulgarError } from "../base/errors.js";
import type { Finding } from "../base/finding.js";
import { roundTo } from "../base/numbers.js";
import type { Meter, PlacedNote } from "../grid/grid.js";
import { BEAT_TICKS } from "./bar-time.js";
import { checkMidiBounds } from "./midi-bounds.js";
import type { ReadSheet } from "./read-musicxml.js";
import { oddText } from "./tab-lines.js";

/** Bounds of a file. */
const MIDI_BOUNDS = Object.freeze({ bytes: 16 * 1024 * 1024, notes: 200_000, bars: 20_000 });
const DRUM_CHANNEL = 9;

type RawNote = { start: number; end: number; midi: number; velocity: number };
type TempoPoint = { tick: number; sec: number; secPerTick: number };

/** @throws PulgarError "bad-midi" for what is no MIDI file, "no-notes", "too-large" */
export function pitchesFromMidi(bytes: Uint8Array): Extract<ReadSheet, { kind: "pitches" }> {
  if (bytes.length > MIDI_BOUNDS.bytes)
    throw new PulgarError("too-large", `${bytes.length} bytes of MIDI`, "Split the file.");
  checkMidiBounds(bytes);
  const midi = parsed(bytes);
  const { header } = midi;
  const isSmpte = header.ticksPerBeat === undefined;
  const quarterLen =
    header.ticksPerBeat ?? ((header.framesPerSecond ?? 25) * (header.ticksPerFrame ?? 40)) / 2;
  if (!(quarterLen > 0)) throw new PulgarError("bad-midi", "a time division of 0", "Save the file again.");
  const notes: RawNote[] = [];
  const tempos: { tick: number; quarterSec: number }[] = [];
  const meters: { tick: number; meter: Meter }[] = [];
  let title = "";
  for (const track of midi.tracks) {
    let tick = 0;
    const open = new Map<number, RawNote[]>();
    const close = (key: number): void => {
      const note = open.get(key)?.shift();
      if (note) note.end = Math.max(tick, note.start + 1);
    };
    for (const event of track) {
      tick += event.deltaTime;
      if (event.type === "setTempo" && event.microsecondsPerBeat > 0)
        tempos.push({ tick, quarterSec: event.microsecondsPerBeat / 1e6 });
      else if (
        event.type === "timeSignature" &&
        event.numerator >= 1 &&
        event.numerator <= 64 &&
        [1, 2, 4, 8, 16, 32].includes(event.denominator)
      )
        meters.push({ tick, meter: { beats: event.numerator, unit: event.denominator } });
      else if (event.type === "trackName" && title === "" && tick === 0) title = event.text.trim();
      else if (event.type === "noteOn" || event.type === "noteOff") {
        if (event.channel === DRUM_CHANNEL) continue;
        const key = event.channel * 128 + event.noteNumber;
        if (event.type === "noteOff" || event.velocity === 0) {
          close(key);
          continue;
        }
        const note = { start: tick, end: tick + 1, midi: event.noteNumber, velocity: event.velocity / 127 };
        notes.push(note);
        if (notes.length > MIDI_BOUNDS.notes)
          throw new PulgarError("too-large", `more than ${MIDI_BOUNDS.notes} notes`, "Split the file.");
        open.set(key, [...(open.get(key) ?? []), note]);
      }
    }
  }
  if (notes.length === 0)
    throw new PulgarError("no-notes", "the MIDI file holds no notes", "Is this the right file?");
  return onGrid(notes, isSmpte ? [] : tempos, meters, quarterLen, title);
}

function parsed(bytes: Uint8Array): ReturnType<typeof parseMidi> {
  try {
    return parseMidi(bytes);
  } catch (e) {
    throw new PulgarError(
      "bad-midi",
      `not a whole MIDI file (${e instanceof Error ? e.message : String(e)})`,
      "Save the file again in the program that made it.",
      e,
    );
  }
}

function onGrid(
  raw: RawNote[],
  tempos: readonly { tick: number; quarterSec: number }[],
  meterEvents: readonly { tick: number; meter: Meter }[],
  quarterLen: number,
  title: string,
): Extract<ReadSheet, { kind: "pitches" }> {
  const findings: Finding[] = [];
  const meters = [...meterEvents].sort((a, b) => a.tick - b.tick);
  const lenOf = (m: Meter): number => (m.beats * quarterLen * 4) / m.unit;
  const [first, second] = meters;
  const isPickup =
    first !== undefined &&
    second !== undefined &&
    first.tick === 0 &&
    lenOf(first.meter) < lenOf(second.meter) &&
    second.tick === lenOf(first.meter);
  const meter = (isPickup ? second : first)?.meter ?? { beats: 4, unit: 4 };
  const startTick = isPickup ? (second?.tick ?? 0) : 0;
  const later = meters.find(
    (m) => m.tick > startTick && (m.meter.beats !== meter.beats || m.meter.unit !== meter.unit),
  );
  if (later)
    findings.push(
      oddText(
        "meter-changes",
        0,
        `the meter changes to ${later.meter.beats}/${later.meter.unit}; all bars were set in ${meter.beats}/${meter.unit}`,
        "A sheet has one meter; check the bars from there on.",
      ),
    );
  const beatLen = (quarterLen * 4) / meter.unit;
  const clock = tempoClock(tempos, quarterLen);
  const pickupTicks = Math.round((startTick / beatLen) * BEAT_TICKS);
  const barTicks = meter.beats * BEAT_TICKS;
  const seen = new Set<string>();
  const notes: PlacedNote[] = [];
  for (const note of raw.sort((a, b) => a.start - b.start || a.midi - b.midi || b.end - a.end)) {
    const abs = nearestTick(((note.start - startTick) / beatLen) * BEAT_TICKS);
    const held = Math.max(-pickupTicks, abs);
    const bar = held < 0 ? 0 : Math.floor(held / barTicks) + 1;
    const tick = held < 0 ? held + pickupTicks : held - (bar - 1) * barTicks;
    if (bar > MIDI_BOUNDS.bars)
      throw new PulgarError("too-large", `more than ${MIDI_BOUNDS.bars} bars`, "Split the file.");
    const key = `${bar} ${tick} ${note.midi}`;
    if (seen.has(key)) continue; // the same pitch twice at once is one string on a guitar
    seen.add(key);
    const length = nearestTick(((note.end - note.start) / beatLen) * BEAT_TICKS);
    notes.push({
      onsetSec: clock(note.start) - clock(startTick),
      offsetSec: clock(note.end) - clock(startTick),
      midi: note.midi,
      confidence: 1,
      velocity: note.velocity,
      bar,
      tick,
      lengthTicks: Math.max(1, Math.min(length, (bar === 0 ? pickupTicks : barTicks) - tick)),
    });
  }
  const barCount = notes.reduce((max, n) => Math.max(max, n.bar), 1);
  const beatSec = Array.from(
    { length: barCount * meter.beats + 1 },
    (_, k) => clock(startTick + k * beatLen) - clock(startTick),
  );
  const quarterSec =
    tempos.length > 0 ? ([...tempos].sort((a, b) => a.tick - b.tick)[0]?.quarterSec ?? 0.5) : 0.5;
  return {
    kind: "pitches",
    title: title.slice(0, 200),
    composer: "",
    notes,
    marks: [],
    grid: {
      beatSec,
      meter,
      tempoBpm: roundTo(((60 / quarterSec) * meter.unit) / 4, 2),
      tempoFrom: tempos.length > 0 ? "user" : "estimated",
      feel: "straight",
      swingRatio: 1,
      barCount,
      pickupBeats: pickupTicks / BEAT_TICKS,
      countInBeats: 0,
      confidence: 1,
      readings: [],
    },
    chords: [],
    repeats: [],
    form: [],
    capo: 0,
    findings,
  };
}

/** The nearest multiple of 3 or 4 ticks. */
const nearestTick = (raw: number): number => {
  const threes = Math.round(raw / 3) * 3;
  const fours = Math.round(raw / 4) * 4;
  return Math.abs(threes - raw) <= Math.abs(fours - raw) ? threes : fours;
};

/** Seconds of a MIDI tick by the tempo map; 120 quarters a minute before the first tempo, as the standard says. */
function tempoClock(
  tempos: readonly { tick: number; quarterSec: number }[],
  quarterLen: number,
): (tick: number) => number {
  const points: TempoPoint[] = [{ tick: 0, sec: 0, secPerTick: 0.5 / quarterLen }];
  for (const { tick, quarterSec } of [...tempos].sort((a, b) => a.tick - b.tick)) {
    const last = points.at(-1) as TempoPoint;
    const sec = last.sec + (tick - last.tick) * last.secPerTick;
    points.push({ tick, sec, secPerTick: quarterSec / quarterLen });
  }
  return (tick) => {
    let low = 0;
    let high = points.length - 1;
    while (low < high) {
      const mid = (low + high + 1) >> 1;
      if ((points[mid]?.tick ?? 0) <= tick) low = mid;
      else high = mid - 1;
    }
    const point = points[low];
    return point ? point.sec + (tick - point.tick) * point.secPerTick : 0;
  };
}
