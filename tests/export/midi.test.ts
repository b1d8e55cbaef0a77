import { type MidiEvent, parseMidi } from "midi-file";
import { expect, test } from "vitest";
import { toMidi } from "../../src/export/midi.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import { namedStudies, studyNamed } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";

type Sounded = { sec: number; midi: number; channel: number; lengthSec: number };

/** Notes in seconds, as midi-file reads the bytes and the tempo map says. */
function sounded(bytes: Uint8Array): Sounded[] {
  const file = parseMidi(bytes);
  const quarter = file.header.ticksPerBeat ?? 0;
  const tempos: { tick: number; micros: number }[] = [];
  let tick = 0;
  for (const event of file.tracks[0] as MidiEvent[]) {
    tick += event.deltaTime;
    if (event.type === "setTempo") tempos.push({ tick, micros: event.microsecondsPerBeat });
  }
  const toSec = (at: number): number => {
    let sec = 0;
    for (const [idx, { tick: from, micros }] of tempos.entries()) {
      const until = Math.min(at, tempos[idx + 1]?.tick ?? at);
      if (until > from) sec += ((until - from) / quarter) * (micros / 1e6);
    }
    return sec;
  };
  const notes: Sounded[] = [];
  for (const track of file.tracks.slice(1)) {
    let at = 0;
    const on = new Map<number, Sounded>();
    for (const event of track) {
      at += event.deltaTime;
      if (event.type === "noteOn" && event.velocity > 0) {
        const note = { sec: toSec(at), midi: event.noteNumber, channel: event.channel, lengthSec: 0 };
        on.set(event.noteNumber, note);
        notes.push(note);
      } else if (event.type === "noteOff") {
        const note = on.get(event.noteNumber);
        if (note) note.lengthSec = toSec(at) - note.sec;
      }
    }
  }
  return notes.sort((a, b) => a.sec - b.sec || b.channel - a.channel);
}

test("midi: midi-file reads format 1, seven tracks, names, meter and a channel a string", () => {
  const sheet = toSheet(studyNamed("stones-in-the-brook"));
  const file = parseMidi(toMidi(sheet).bytes);
  expect(file.header.format).toBe(1);
  expect(file.tracks.length).toBe(7);
  const first = file.tracks[0] as MidiEvent[];
  expect(first.find((e) => e.type === "timeSignature")).toMatchObject({ numerator: 6, denominator: 8 });
  expect(first.find((e) => e.type === "trackName")).toMatchObject({ text: "Stones in the Brook" });
  expect(first.filter((e) => e.type === "marker").map((e) => (e as { text: string }).text)).toEqual([
    "A",
    "A",
    "B",
    "A",
  ]);
  for (const [idx, track] of file.tracks.slice(1).entries()) {
    const name = track.find((e) => e.type === "trackName") as { text: string };
    expect(name.text).toMatch(new RegExp(`^String ${6 - idx} `));
    for (const event of track) if (event.type === "noteOn") expect(event.channel).toBe(5 - idx);
  }
});

test("midi: every note of every study sounds at its beat by the written tempo", () => {
  for (const study of namedStudies()) {
    const sheet = toSheet(study);
    if (sheet.grid.feel === "swing" || sheet.grid.pickupBeats > 0) continue;
    const notes = sounded(toMidi(sheet).bytes);
    expect(notes.length, study.name).toBe(sheet.notes.length);
    const beatSec = 60 / sheet.grid.tempoBpm;
    const want = sheet.notes
      .map((n) => ({
        sec: ((n.bar - 1) * sheet.grid.meter.beats + n.tick / 24) * beatSec,
        midi: n.midi,
        channel: n.string - 1,
      }))
      .sort((a, b) => a.sec - b.sec || b.channel - a.channel);
    for (const [idx, note] of notes.entries()) {
      expect(note.midi).toBe(want[idx]?.midi);
      expect(Math.abs(note.sec - (want[idx]?.sec ?? 0))).toBeLessThan(0.002);
    }
  }
});

test("midi: the tempo map follows the player's own beats within a millisecond over four minutes", () => {
  const base = toSheet(studyNamed("mixolydian-over-a"));
  const beatSec = [0.5];
  for (let k = 1; k <= 8 * 4; k++) beatSec.push((beatSec[k - 1] ?? 0) + 0.6 + 0.08 * Math.sin(k * 1.7));
  const sheet: Sheet = { ...base, grid: { ...base.grid, beatSec, firstBeatSec: 0.5 } };
  for (const note of sounded(toMidi(sheet).bytes).filter((n) => n.channel === 4)) {
    const nearest = beatSec.map((s) => Math.abs(s - 0.5 - note.sec)).sort((a, b) => a - b)[0] ?? 1;
    expect(nearest).toBeLessThan(0.001);
  }
});

test("midi: an off-beat eighth at swing 2:1 comes at two thirds of the beat (triplet swing, common practice)", () => {
  const base = toSheet(studyNamed("mixolydian-over-a"));
  const sheet: Sheet = { ...base, grid: { ...base.grid, feel: "swing", swingRatio: 2, tempoBpm: 60 } };
  const times = sounded(toMidi(sheet).bytes).map((n) => n.sec);
  expect(times[1]).toBeCloseTo(2 / 3, 3);
});

test("midi: repeats and their endings are played out", () => {
  const base = toSheet(studyNamed("mixolydian-over-a"));
  const repeated: Sheet = { ...base, repeats: [{ fromBar: 1, toBar: 2, times: 2, endings: [] }] };
  const extra = base.notes.filter((n) => n.bar <= 2).length;
  expect(sounded(toMidi(repeated).bytes).length).toBe(base.notes.length + extra);
});
