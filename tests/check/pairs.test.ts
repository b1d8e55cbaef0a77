import { expect, test } from "vitest";
import { alignSheet } from "../../src/check/align.js";
import type { Asked } from "../../src/check/judge.js";
import { fretOn, pairClaims } from "../../src/check/pairs.js";
import type { Unwritten } from "../../src/check/unwritten.js";
import { playTiny, risingBars, tinyListening, tinySheet } from "../helpers/check/tiny.js";

const sheet = tinySheet(risingBars(4));
const alignment = alignSheet(sheet, tinyListening(playTiny(sheet, 1, 0.4), 9));

for (const [string, midi, fret] of [
  [6, 40, 0],
  [6, 43, 3],
  [1, 63, undefined], // below the open string
  [1, 88, 24],
  [1, 89, undefined], // above the neck
] as const)
  test(`check/pairs: MIDI ${midi} on string ${string} is ${fret === undefined ? "nowhere" : `fret ${fret}`} (standard tuning)`, () =>
    expect(fretOn(sheet, string, midi)).toBe(fret));

test("check/pairs: frets count from the capo", () => expect(fretOn({ ...sheet, capo: 3 }, 6, 45)).toBe(2));

const asked = (noteIdx: number, there: number, more: Partial<Asked> = {}): Asked => ({
  noteIdx,
  eventIdx: noteIdx,
  midi: sheet.notes[noteIdx]?.midi ?? 0,
  sec: 1 + noteIdx * 0.4,
  peakLogit: 0,
  there,
  audible: true,
  masked: false,
  features: [],
  ...more,
});
const heard = (noteIdx: number, semitones: number, played: number, offSec = 0): Unwritten => ({
  midi: (sheet.notes[noteIdx]?.midi ?? 0) + semitones,
  sec: 1 + noteIdx * 0.4 + offSec,
  barIdx: Math.floor(noteIdx / 4),
  tick: (noteIdx % 4) * 24,
  eventIdx: noteIdx,
  played,
  features: [],
});
const kindsOf = (a: Asked[], h: Unwritten[]) =>
  pairClaims(sheet, alignment, a, h).map((c) => `${c.unsure ? "?" : ""}${c.kind}`);

for (const [what, a, h, kinds] of [
  ["absent and nothing else there: missing", [asked(5, 0.05)], [], ["missing"]],
  [
    "absent and a second above there: one wrong pitch",
    [asked(5, 0.05)],
    [heard(5, 2, 0.95)],
    ["wrong-pitch"],
  ],
  [
    "absent and a tenth away there: missing and extra",
    [asked(5, 0.05)],
    [heard(5, 15, 0.95)],
    ["extra", "missing"],
  ],
  [
    "absent and another at another moment: missing and extra",
    [asked(5, 0.05)],
    [heard(5, 2, 0.95, 0.2)],
    ["extra", "missing"],
  ],
  ["there and another clear one beside: extra", [asked(5, 0.98)], [heard(5, 4, 0.95)], ["extra"]],
  ["there and a doubtful one beside: nothing", [asked(5, 0.98)], [heard(5, 12, 0.3)], []],
  ["half there: unsure", [asked(5, 0.45)], [], ["?missing"]],
  ["beyond the listener's range: never claimed", [asked(5, 0.5, { audible: false })], [], []],
] as const)
  test(`check/pairs: ${what}`, () => expect(kindsOf([...a], [...h]).sort()).toEqual([...kinds].sort()));

test("check/pairs: two absent notes and two heard ones pair by the nearest pitch", () => {
  const chord = tinySheet([[1, 0, 3, 2], [1, 0, 2, 2], ...risingBars(4).filter((n) => n[0] > 1)]);
  const both = alignSheet(chord, tinyListening(playTiny(chord, 1, 0.4), 9));
  const a = [0, 1].map((i) => asked(i, 0.05, { eventIdx: 0, midi: chord.notes[i]?.midi ?? 0, sec: 1 }));
  const h = [58, 60].map((midi) => ({ ...heard(0, 0, 0.95), midi, sec: 1 }));
  const claims = pairClaims(chord, both, a, h);
  expect(claims.map((c) => [chord.notes[c.noteIdx ?? -1]?.midi, c.playedMidi])).toEqual([
    [57, 58],
    [61, 60],
  ]);
});
