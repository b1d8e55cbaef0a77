import { strToU8, zipSync } from "fflate";
import { writeMidi } from "midi-file";
import { expect, test } from "vitest";
import { toMidi } from "../../src/export/midi.js";
import { toMusicXml, toMxl } from "../../src/export/musicxml.js";
import { sheetToJson } from "../../src/sheet/json.js";
import { readSheet } from "../../src/sheet/read-any.js";
import { sheetToText } from "../../src/sheet/text.js";
import { plainTab } from "../helpers/takes/plain-tab.js";
import { studyNamed } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";

const study = studyNamed("mixolydian-over-a");
const sheet = toSheet(study);
const utf8 = (text: string): Uint8Array => new TextEncoder().encode(text);

for (const [what, bytes] of [
  ["our text", utf8(sheetToText(sheet))],
  ["our JSON", utf8(JSON.stringify(sheetToJson(sheet)))],
  ["MusicXML", toMusicXml(sheet).bytes],
  ["MusicXML in UTF-16", utf16(new TextDecoder().decode(toMusicXml(sheet).bytes))],
  [".mxl", toMxl(sheet).bytes],
  ["plain tab", utf8(plainTab(study))],
  ["plain tab with Windows line ends", utf8(plainTab(study).replaceAll("\n", "\r\n"))],
] as const)
  test(`sheet/read-any: ${what} is known by its content under a wrong name`, () => {
    const read = readSheet(bytes, "wrong.bin");
    if (read.kind !== "tab") throw new Error("no strings");
    expect(read.sheet.notes.map((n) => [n.bar, n.tick, n.string, n.fret, n.midi])).toEqual(
      sheet.notes.map((n) => [n.bar, n.tick, n.string, n.fret, n.midi]),
    );
  });

function utf16(text: string): Uint8Array {
  const bytes = new Uint8Array(2 + 2 * text.length);
  bytes.set([0xff, 0xfe]);
  for (let k = 0; k < text.length; k++)
    bytes.set([text.charCodeAt(k) & 255, text.charCodeAt(k) >> 8], 2 + 2 * k);
  return bytes;
}

test("sheet/read-any: MIDI gives the pitches at their places", () => {
  const read = readSheet(toMidi(sheet).bytes, "x.mid");
  if (read.kind !== "pitches") throw new Error("strings from MIDI");
  const places = (notes: readonly { bar: number; tick: number; midi: number }[]): string[] =>
    notes.map((n) => `${n.bar} ${n.tick} ${n.midi}`).sort();
  expect(places(read.notes)).toEqual(places(sheet.notes));
  expect(read.grid).toMatchObject({ tempoBpm: 96, meter: { beats: 4, unit: 4 }, barCount: 8 });
});

test("sheet/read-midi: tempo map, running time and a pick-up meter by the standard (Standard MIDI Files 1.0)", () => {
  const bytes = Uint8Array.from(
    writeMidi({
      header: { format: 0, numTracks: 1, ticksPerBeat: 480 },
      tracks: [
        [
          {
            deltaTime: 0,
            type: "timeSignature",
            meta: true,
            numerator: 1,
            denominator: 4,
            metronome: 24,
            thirtyseconds: 8,
          },
          { deltaTime: 0, type: "setTempo", meta: true, microsecondsPerBeat: 1_000_000 },
          { deltaTime: 0, type: "noteOn", channel: 0, noteNumber: 64, velocity: 90 },
          { deltaTime: 480, type: "noteOff", channel: 0, noteNumber: 64, velocity: 0 },
          {
            deltaTime: 0,
            type: "timeSignature",
            meta: true,
            numerator: 3,
            denominator: 4,
            metronome: 24,
            thirtyseconds: 8,
          },
          { deltaTime: 0, type: "setTempo", meta: true, microsecondsPerBeat: 500_000 },
          { deltaTime: 0, type: "noteOn", channel: 3, noteNumber: 45, velocity: 90 },
          { deltaTime: 1440, type: "noteOn", channel: 3, noteNumber: 45, velocity: 0 },
          { deltaTime: 160, type: "noteOn", channel: 0, noteNumber: 52, velocity: 90 },
          { deltaTime: 80, type: "noteOff", channel: 0, noteNumber: 52, velocity: 0 },
          { deltaTime: 0, type: "noteOn", channel: 9, noteNumber: 38, velocity: 90 },
          { deltaTime: 0, type: "endOfTrack", meta: true },
        ],
      ],
    }),
  );
  const read = readSheet(bytes, "x.mid");
  if (read.kind !== "pitches") throw new Error("strings from MIDI");
  expect(read.notes.map((n) => [n.bar, n.tick, n.lengthTicks, n.midi])).toEqual([
    [0, 0, 24, 64],
    [1, 0, 72, 45],
    [2, 8, 4, 52],
  ]);
  // By hand: 1 s before bar 1; a bar of three half-second beats is 1.5 s, a third of a beat 1/6 s.
  for (const [k, sec] of [-1, 0, 1.5 + 1 / 6].entries()) expect(read.notes[k]?.onsetSec).toBeCloseTo(sec, 9);
  expect(read.grid).toMatchObject({ pickupBeats: 1, meter: { beats: 3, unit: 4 } });
});

test("sheet/read-mxl: a score that inflates beyond the bound is stopped, whatever the ZIP declares", () => {
  const bomb = zipSync({ "score.musicxml": new Uint8Array(80 * 1024 * 1024) }, { level: 9 });
  // The declared sizes are made small: a reader that believes them would go on.
  const view = new DataView(bomb.buffer);
  for (let k = 0; k + 4 < bomb.length; k++) {
    if (view.getUint32(k, true) === 0x04034b50) view.setUint32(k + 22, 100, true);
    if (view.getUint32(k, true) === 0x02014b50) view.setUint32(k + 24, 100, true);
  }
  expect(bomb.length).toBeLessThan(200_000);
  expect(() => readSheet(bomb, "x.mxl")).toThrow(expect.objectContaining({ code: "too-large" }));
});

for (const [what, bytes, code] of [
  ["nothing", new Uint8Array(0), "empty-file"],
  ["blanks", utf8("  \n\n"), "empty-file"],
  ["words", utf8("Dear student,\nplease practise.\n"), "bad-tab"],
  ["half a JSON document", utf8('{"format":"pulgar.sheet",'), "bad-json"],
  ["another JSON document", utf8('{"format":"else"}'), "bad-sheet"],
  ["a ZIP without a score", zipSync({ "readme.txt": strToU8("no") }), "bad-xml"],
  ["a ZIP cut short", toMxl(sheet).bytes.slice(0, 600), "bad-xml"],
  ["MIDI cut short", toMidi(sheet).bytes.slice(0, 60), "bad-midi"],
  ["a recording", utf8("RIFF....WAVEfmt "), "bad-tab"],
  ["bytes of no kind", Uint8Array.from({ length: 300 }, (_, k) => (k * 37) % 256), "bad-tab"],
] as const)
  test(`sheet/read-any: ${what} is refused with ${code}, the file's name first`, () => {
    expect(() => readSheet(bytes, "some/file.x")).toThrow(expect.objectContaining({ code }));
    expect(() => readSheet(bytes, "some/file.x")).toThrow(/^some\/file\.x: /);
  });
