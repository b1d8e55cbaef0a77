// Bounds of MIDI files, byte by byte after Standard MIDI Files 1.0 (MIDI Association).
import { expect, test } from "vitest";
import { checkMidiBounds } from "../../src/sheet/midi-bounds.js";

const HEAD = [0x4d, 0x54, 0x68, 0x64, 0, 0, 0, 6, 0, 0, 0, 1, 0, 96];
const file = (track: number[], declared = track.length): Uint8Array =>
  Uint8Array.from([...HEAD, 0x4d, 0x54, 0x72, 0x6b, 0, 0, 0, declared, ...track]);
const END = [0, 0xff, 0x2f, 0];

for (const [name, bytes] of [
  ["a note and the end of the track", file([0, 0x90, 64, 90, 96, 0x80, 64, 0, ...END])],
  ["running status", file([0, 0x90, 64, 90, 96, 64, 0, ...END])],
  ["program change of one data byte", file([0, 0xc0, 24, ...END])],
  ["a text and a system exclusive", file([0, 0xff, 1, 2, 65, 66, 0, 0xf0, 2, 1, 0xf7, ...END])],
  ["a chunk of another kind", Uint8Array.from([...file(END), 0x58, 0x46, 0x49, 0x48, 0, 0, 0, 1, 7])],
] as const)
  test(`sheet/midi-bounds: ${name} is whole`, () => expect(() => checkMidiBounds(bytes)).not.toThrow());

for (const [name, bytes, says] of [
  ["a text longer than its track", file([0, 0xff, 1, 0x8f, 0xff, 0xff, 0x7f]), "past its track"],
  ["a track longer than the file", file(END, 200), "the file ends before"],
  ["a note cut in two", file([0, 0x90, 64]), "past its track"],
  ["a delta time of five bytes", file([0x81, 0x81, 0x81, 0x81, 1, ...END]), "four bytes"],
  ["data before any event", file([0, 64, 90]), "data before any event"],
  ["a real-time message", file([0, 0xf8, ...END]), "f8"],
  ["another file", Uint8Array.from([1, 2, 3]), "no MIDI header"],
] as const)
  test(`sheet/midi-bounds: ${name} is refused by code and byte`, () => {
    expect(() => checkMidiBounds(bytes)).toThrow(
      expect.objectContaining({ code: "bad-midi", message: expect.stringContaining(says) }),
    );
  });
