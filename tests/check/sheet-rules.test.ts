import { expect, test } from "vitest";
import { promisedTones, rootClass, sheetRuleFindings } from "../../src/check/sheet-rules.js";
import type { SheetChord } from "../../src/sheet/sheet.js";
import { type TinyNote, tinySheet } from "../helpers/check/tiny.js";

const chord = (symbol: string, root: string, bass = root): SheetChord => ({
  bar: 1,
  beat: 1,
  symbol,
  root,
  bass,
  confidence: 1,
  alternatives: [],
  by: "hand",
});
/** Open-position shapes, frets from string 6 to 1 (any chord dictionary). */
const shape = (frets: readonly (number | undefined)[]): TinyNote[] =>
  frets.flatMap((fret, k) => (fret === undefined ? [] : [[1, k * 12, 6 - k, fret] as const]));
const A_MAJOR = shape([undefined, 0, 2, 2, 2, 0]);
const A_MINOR = shape([undefined, 0, 2, 2, 1, 0]);
const G_OVER_A = shape([undefined, 0, 0, 0, 0, 3]);
const rulesOf = (notes: readonly TinyNote[], chords: SheetChord[]) =>
  sheetRuleFindings({ ...tinySheet(notes), chords }).map((f) => f.rule);

for (const [name, notes, chords, rules] of [
  ["A over its own shape", A_MAJOR, [chord("A", "A")], []],
  ["Am over its own shape", A_MINOR, [chord("Am", "A")], []],
  ["A over the A minor shape", A_MINOR, [chord("A", "A")], ["chord-contradicts"]],
  ["Am over the A major shape", A_MAJOR, [chord("Am", "A")], ["chord-contradicts"]],
  ["G/A over G with A below", G_OVER_A, [chord("G/A", "G", "A")], []],
  ["Asus4 asks no third", A_MAJOR, [chord("Asus4", "A")], []],
  ["E over the A shape: neither root's third …", G_OVER_A, [chord("C#", "C#")], ["chord-contradicts"]],
  ["no chord", A_MAJOR, [chord("N.C.", "A")], []],
] as const)
  test(`check/sheet-rules: ${name}`, () => expect(rulesOf(notes, [...chords])).toEqual([...rules]));

for (const [symbol, tones] of [
  ["A", { third: 4 }],
  ["Am7", { third: 3 }],
  ["Amaj7", { third: 4 }],
  ["A5", { fifth: 7 }],
  ["Bdim", { third: 3, fifth: 6 }],
  ["Caug", { third: 4, fifth: 8 }],
  ["F#m/C#", { third: 3 }],
] as const)
  test(`check/sheet-rules: ${symbol} promises ${JSON.stringify(tones)} (chord spelling, common practice)`, () =>
    expect(promisedTones(symbol)).toEqual(tones));

test("check/sheet-rules: roots by letter and accidental", () => {
  expect(["C", "C#", "Db", "B", "Cb", "H"].map(rootClass)).toEqual([0, 1, 1, 11, 11, undefined]);
});

test("check/sheet-rules: a string and fret that cannot sound the pitch is an error in its bar", () => {
  const sheet = tinySheet(A_MAJOR);
  const note = sheet.notes[1];
  if (note) note.midi += 1;
  expect(sheetRuleFindings(sheet)).toMatchObject([{ rule: "place-cannot-sound", level: "error", bar: 1 }]);
});

test("check/sheet-rules: a whole sheet an octave off is said once", () => {
  const sheet = tinySheet(A_MAJOR);
  for (const note of sheet.notes) note.midi += 12;
  expect(sheetRuleFindings(sheet)).toMatchObject([{ rule: "place-cannot-sound", bar: 0 }]);
});

test("check/sheet-rules: a on string 6, and i above m in one pinch, are called out; p-i-m-a in order is not", () => {
  const sheet = tinySheet([
    [1, 0, 6, 0],
    [1, 24, 3, 0],
    [1, 24, 2, 0],
    [1, 48, 5, 0],
    [1, 48, 3, 0],
  ]);
  (["a", "m", "i", "p", "i"] as const).forEach((finger, k) => {
    const note = sheet.notes[k];
    if (note) note.finger = finger;
  });
  expect(sheetRuleFindings(sheet).map((f) => f.rule)).toEqual([
    "letter-contradicts-string",
    "letters-crossed",
  ]);
});
