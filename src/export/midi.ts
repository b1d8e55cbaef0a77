/** Sheet → Standard MIDI File, format 1.
 * In: a sheet. Out: an ExportFile `.mid`: a first track with title, meter, key, tempo map and section markers, then a track and channel for each string.
 * The tempo map follows the player's beats where the sheet has a recording, else the written tempo. Repeats are played out, swing is played.
 * Source: MIDI 1.0, Standard MIDI Files 1.0 (RP-001). Cannot: string and fret of a note other than by its track; letters and marks are not kept. */
import { playedBars, playedEvents } from "../base/playback.js";
import type { Sheet, SheetNote } from "../sheet/sheet.js";
import type { ExportFile } from "./export-file.js";
import { fileNameOf } from "./file-name.js";
import { signatureFifths } from "./spelling.js";

/** MIDI ticks of a quarter note: divides evenly for every meter unit to 32 (160/unit MIDI ticks · a sheet tick). */
const QUARTER_MIDI_TICKS = 960;
/** General MIDI program 26, steel-string acoustic guitar, counted from 0. */
const STEEL_GUITAR_PROGRAM = 25;
/** Velocity where the sheet has none: mezzo-forte in common use. */
const PLAIN_VELOCITY = 80;

/** A MIDI event at an absolute tick; `rank` orders events of one tick: meta, note-off, note-on. */
type TrackEvent = { tick: number; rank: number; bytes: number[] };

export function toMidi(sheet: Sheet): ExportFile {
  const grid = {
    ...sheet.grid,
    pickupBeats:
      sheet.grid.pickupBeats || (sheet.notes.some((n) => n.bar === 0) ? sheet.grid.meter.beats : 0),
  };
  const bars = playedBars(grid, sheet.repeats);
  const beatTicks = (QUARTER_MIDI_TICKS * 4) / grid.meter.unit;
  const toTick = (beat: number): number => Math.round(beat * beatTicks);
  const lastBar = bars.at(-1);
  const endTick = lastBar ? toTick(lastBar.startBeat + lastBar.beats) : 0;

  const head: TrackEvent[] = [
    { tick: 0, rank: 0, bytes: textMeta(0x03, sheet.title || "Sheet") },
    {
      tick: 0,
      rank: 0,
      bytes: meta(0x58, [grid.meter.beats, Math.round(Math.log2(grid.meter.unit)), 24, 8]),
    },
  ];
  if (sheet.composer) head.push({ tick: 0, rank: 0, bytes: textMeta(0x02, sheet.composer) });
  if (sheet.mode) {
    const fifths = signatureFifths(sheet.mode.tonic, sheet.mode.mode);
    const minor = /aeolian|minor|dorian|phrygian|locrian/.test(sheet.mode.mode) ? 1 : 0;
    head.push({ tick: 0, rank: 0, bytes: meta(0x59, [fifths & 0xff, minor]) });
  }
  head.push(...tempoEvents(bars, beatTicks));
  for (const [idx, bar] of bars.entries()) {
    const part = sheet.form.find((p) => p.bars[0] === bar.bar);
    if (part?.label)
      head.push({ tick: toTick(bars[idx]?.startBeat ?? 0), rank: 0, bytes: textMeta(0x06, part.label) });
  }

  const tracks = [trackBytes(head, endTick)];
  const events = playedEvents(sheet.notes, grid, bars);
  for (let string = 6; string >= 1; string--) {
    const channel = string - 1;
    const list: TrackEvent[] = [
      { tick: 0, rank: 0, bytes: textMeta(0x03, stringName(sheet, string)) },
      { tick: 0, rank: 0, bytes: [0xc0 | channel, STEEL_GUITAR_PROGRAM] },
    ];
    for (const event of events) {
      if (event.note.string !== string) continue;
      const startTick = toTick(event.startBeat);
      const stopTick = Math.max(startTick + 1, toTick(event.endBeat));
      const velocity = velocityOf(event.note);
      list.push({ tick: startTick, rank: 2, bytes: [0x90 | channel, event.note.midi & 0x7f, velocity] });
      list.push({ tick: stopTick, rank: 1, bytes: [0x80 | channel, event.note.midi & 0x7f, 64] });
    }
    tracks.push(trackBytes(list, endTick));
  }
  const bytes: number[] = [
    0x4d,
    0x54,
    0x68,
    0x64,
    0,
    0,
    0,
    6,
    0,
    1,
    0,
    tracks.length,
    QUARTER_MIDI_TICKS >> 8,
    QUARTER_MIDI_TICKS & 0xff,
  ];
  for (const track of tracks) for (const byte of track) bytes.push(byte);
  return { fileName: fileNameOf(sheet, "mid"), mediaType: "audio/midi", bytes: Uint8Array.from(bytes) };
}

/** A tempo event wherever the beat's length changes; each is reckoned from the map so far, so that rounding never adds up. */
function tempoEvents(bars: ReturnType<typeof playedBars>, beatTicks: number): TrackEvent[] {
  const events: TrackEvent[] = [];
  let mapSec = 0;
  let lastMicros = 0;
  for (const bar of bars) {
    for (let idx = 0; idx + 1 < bar.beatSec.length; idx++) {
      const endSec = bar.beatSec[idx + 1] ?? 0;
      const share = Math.min(1, bar.beats - idx);
      const quarters = (share * beatTicks) / QUARTER_MIDI_TICKS;
      const wanted = ((endSec - mapSec) / quarters) * 1e6; // µs a quarter
      const steady = Math.abs(wanted - lastMicros) < 2 && lastMicros > 0;
      const micros = steady ? lastMicros : Math.max(1, Math.min(0xffffff, Math.round(wanted)));
      if (!steady)
        events.push({
          tick: Math.round((bar.startBeat + idx) * beatTicks),
          rank: 0,
          bytes: meta(0x51, [(micros >> 16) & 0xff, (micros >> 8) & 0xff, micros & 0xff]),
        });
      mapSec += (micros * quarters) / 1e6;
      lastMicros = micros;
    }
  }
  return events;
}

function velocityOf(note: SheetNote): number {
  if (note.marks.includes("dead")) return 40;
  const velocity = note.velocity === undefined ? PLAIN_VELOCITY : Math.round(note.velocity * 127);
  return Math.max(1, Math.min(127, velocity));
}

const NOTE_NAMES = ["C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"] as const;

function stringName(sheet: Sheet, string: number): string {
  const midi = (sheet.openMidi[6 - string] ?? 0) + sheet.capo;
  return `String ${string} (${NOTE_NAMES[midi % 12]}${Math.floor(midi / 12) - 1})`;
}

function meta(type: number, data: readonly number[]): number[] {
  return [0xff, type, ...variableLength(data.length), ...data];
}

const textMeta = (type: number, text: string): number[] => meta(type, [...new TextEncoder().encode(text)]);

/** Seven bits a byte, the top bit set on all but the last. */
function variableLength(value: number): number[] {
  const bytes = [value & 0x7f];
  for (let rest = value >> 7; rest > 0; rest >>= 7) bytes.unshift((rest & 0x7f) | 0x80);
  return bytes;
}

function trackBytes(events: readonly TrackEvent[], endTick: number): number[] {
  const sorted = events
    .map((event, order) => ({ ...event, order }))
    .sort((a, b) => a.tick - b.tick || a.rank - b.rank || a.order - b.order);
  const body: number[] = [];
  let tick = 0;
  for (const event of sorted) {
    body.push(...variableLength(event.tick - tick), ...event.bytes);
    tick = event.tick;
  }
  body.push(...variableLength(Math.max(0, endTick - tick)), 0xff, 0x2f, 0);
  const len = body.length;
  return [
    0x4d,
    0x54,
    0x72,
    0x6b,
    (len >>> 24) & 0xff,
    (len >>> 16) & 0xff,
    (len >>> 8) & 0xff,
    len & 0xff,
    ...body,
  ];
}
