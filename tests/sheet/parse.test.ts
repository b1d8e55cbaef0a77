import fc from "fast-check";
import { expect, test } from "vitest";
import { PulgarError } from "../../src/base/errors.js";
import { sheetFromText } from "../../src/sheet/parse.js";
import { sheetToText } from "../../src/sheet/text.js";
import { plainTab } from "../helpers/takes/plain-tab.js";
import { namedStudies, studyNamed } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";
import { anySheet } from "./any-sheet.js";

/** Columns of a bar are three characters wide here; the count stands above. */
const OWN = `pulgar sheet 1
title: By hand
tuning: standard = E2 A2 D3 G3 B3 E4
tempo: 90
meter: 2/4

bar    1             2
chord   Am            E?
count   1  +  2  +    1  +  2  +
     e|-------0?----|-0-h1--.-----|
     B|----1--------|-------------|
     G|-------------|-------------|
     D|-------------|-------------|
     A|-0-----------|-------------|
     E|-------------|-0-------(0)-|
pick    p  i  a       a
                      p
`;

test("sheet/parse: a sheet typed by hand gives every place, mark and letter (by hand)", () => {
  const { sheet, findings } = sheetFromText(OWN);
  expect(findings).toEqual([]);
  expect(
    sheet.notes.map((n) => [n.bar, n.tick, n.lengthTicks, n.string, n.fret, n.finger, n.by, n.marks]),
  ).toEqual([
    [1, 0, 48, 5, 0, "p", "hand", []],
    [1, 12, 36, 2, 1, "i", "hand", []],
    [1, 24, 24, 1, 0, "a", "machine", []],
    [2, 0, 36, 6, 0, "p", "hand", []],
    [2, 0, 12, 1, 0, "a", "hand", []],
    [2, 12, 12, 1, 1, undefined, "hand", ["hammer-on"]],
    [2, 36, 12, 6, 0, undefined, "hand", ["tie"]],
  ]);
  expect(sheet.chords.map((c) => [c.bar, c.beat, c.symbol, c.by])).toEqual([
    [1, 1, "Am", "hand"],
    [2, 1, "E", "machine"],
  ]);
});

test("sheet/parse: what a hand leaves crooked is read and named by line and column", () => {
  const crooked = OWN.replace("     B|----1--------|", "     B|----12--------|").replace("h1--.-", "h1~-.-");
  const { sheet, findings } = sheetFromText(crooked);
  expect(sheet.notes.find((n) => n.string === 2)).toMatchObject({ bar: 1, tick: 12, fret: 12 });
  expect(findings.map((f) => [f.rule, /^line \d+, column \d+/.exec(f.message)?.[0]])).toEqual([
    ["text-columns", "line 11, column 8"],
    ["text-sign", "line 10, column 27"],
  ]);
});

test("sheet/parse: a sign one character beside its count belongs to it, and this is said", () => {
  const { sheet, findings } = sheetFromText(OWN.replace("|----1--------|", "|---1---------|"));
  expect(sheet.notes.find((n) => n.string === 2)).toMatchObject({ bar: 1, tick: 12, fret: 1 });
  expect(findings.map((f) => f.rule)).toEqual(["text-columns"]);
});

test("sheet/parse: a note taken out of a chord leaves the letters to the strings that pluck them", () => {
  const text = sheetToText(toSheet(studyNamed("mixolydian-over-a")));
  const lines = text.split("\n");
  const idx = lines.findLastIndex((l) => l.startsWith("     e|"));
  lines[idx] = (lines[idx] ?? "").replace(/0(-+\|)$/, "-$1");
  const { sheet } = sheetFromText(lines.join("\n"));
  expect(sheet.notes.filter((n) => n.bar === 8).map((n) => [n.string, n.finger])).toEqual([
    [5, "p"],
    [3, "i"],
    [2, "m"],
  ]);
});

for (const [what, spoil, message] of [
  [
    "five string lines",
    (t: string) => t.replace("     D|-------------|-------------|\n", ""),
    /line 14, column 1: a system of 5/,
  ],
  [
    "a count that does not fit",
    (t: string) => t.replace("1  +  2  +    1", "1  +  3  +    1"),
    /line 9, column 9: bar 1: found "1 \+ 3 \+"/,
  ],
  ["no count", (t: string) => t.replace(/count.*\n/, ""), /line 9, column 1: bar 1 has no count/],
  [
    "a line with one bar less",
    (t: string) => t.replace("     G|-------------|", "     G|--------------"),
    /line 12, column 1: string 3 has 1 bars/,
  ],
  ["a meter of no kind", (t: string) => t.replace("2/4", "2/5"), /line 5, column 8: meter: found "2\/5"/],
  ["a newer sheet", (t: string) => t.replace("sheet 1", "sheet 9"), /line 1, column 1/],
] as const)
  test(`sheet/parse: ${what} is refused with line and column`, () => {
    expect(() => sheetFromText(spoil(OWN))).toThrow(message);
    expect(() => sheetFromText(spoil(OWN))).toThrow(expect.objectContaining({ code: "bad-tab" }));
  });

test("sheet/parse: Windows line ends, a byte order mark and tabulators change nothing", () => {
  const { sheet } = sheetFromText(`\uFEFF${OWN.replaceAll("\n", "\r\n")}`);
  expect(sheet).toEqual(sheetFromText(OWN).sheet);
  const tabbed = OWN.replace("count   1", "count\t1").replace("pick    p", "pick\tp");
  expect(sheetFromText(tabbed).sheet).toEqual(sheetFromText(OWN).sheet);
});

for (const study of namedStudies())
  test(`sheet/read-tab: ${study.name} as plain tab keeps every string, fret and order`, () => {
    const { sheet, findings } = sheetFromText(plainTab(study));
    expect(findings).toEqual([]);
    const offset = study.pickupBeats > 0 ? 1 : 0; // nothing tells a pick-up from a bar here
    const order = (
      notes: readonly { bar: number; tick: number; string: number; fret: number }[],
      add: number,
    ) => {
      const bars = new Map<number, Map<number, string[]>>();
      for (const n of notes) {
        const bar = bars.get(n.bar + add) ?? new Map<number, string[]>();
        bars.set(n.bar + add, bar);
        bar.set(n.tick, [...(bar.get(n.tick) ?? []), `${n.string}:${n.fret}`].sort());
      }
      return [...bars]
        .sort((a, b) => a[0] - b[0])
        .map(([bar, ticks]) => [bar, [...ticks].sort((a, b) => a[0] - b[0]).map((t) => t[1].join(" "))]);
    };
    expect(order(sheet.notes, 0)).toEqual(order(study.notes, offset));
    expect(sheet.rhythm).toBe("none");
    expect(sheet.grid.confidence).toBe(0);
    expect(sheet.openMidi.map((m) => m % 12)).toEqual(study.openMidi.map((m) => m % 12));
  });

const FOREIGN = `Evening Steps
Capo on 2nd fret, 80 bpm, tuning: DADGAD
    Dm            G
d|------0-----|-----3---3~~|
A |---1---1----|---0---0---|
G|--2-----2---|-0-----------|
D|------------|------------|
A|0-----------|--2h3--------|
D|------------|3-----------|
  some words here

e---10--9---|
B---10--9---|
`;

test("sheet/read-tab: uneven tab with words around it is read, the rest named by line and column", () => {
  const { sheet, findings } = sheetFromText(FOREIGN);
  expect(sheet).toMatchObject({
    title: "Evening Steps",
    capo: 2,
    tuningName: "dadgad",
    grid: { tempoBpm: 80, barCount: 2 },
  });
  expect(sheet.notes.filter((n) => n.bar === 1).map((n) => [n.string, n.fret])).toEqual([
    [5, 0],
    [3, 2],
    [2, 1],
    [1, 0],
    [2, 1],
    [3, 2],
  ]);
  expect(sheet.notes.find((n) => n.marks.includes("hammer-on"))).toMatchObject({
    bar: 2,
    string: 5,
    fret: 3,
  });
  expect(sheet.chords.map((c) => [c.bar, c.symbol])).toEqual([
    [1, "Dm"],
    [2, "G"],
  ]);
  const places = findings.map((f) => /^line \d+, column \d+/.exec(f.message)?.[0]);
  expect(places).toContain("line 12, column 1");
  expect(places).toContain("line 10, column 1");
  expect(places).toContain("line 4, column 26");
});

test("sheet/read-tab: a count over every bar gives the rhythm", () => {
  const { sheet } = sheetFromText(
    [
      "   1 & 2 & 3 & ",
      "e|-0-----------|",
      "B|-----1-------|",
      "G|-------------|",
      "D|-------------|",
      "A|---------2---|",
      "E|-3-----------|",
    ].join("\n"),
  );
  expect(sheet.rhythm).toBeUndefined();
  expect(sheet.grid.meter).toEqual({ beats: 3, unit: 4 });
  expect(sheet.notes.map((n) => [n.tick, n.string])).toEqual([
    [0, 6],
    [0, 1],
    [24, 2],
    [48, 5],
  ]);
});

test("sheet/read-tab: lines with the lowest string on top are turned over", () => {
  const { sheet, findings } = sheetFromText("E|-3--\nA|----\nD|----\nG|----\nB|----\ne|--1-\n");
  expect(sheet.notes.map((n) => [n.string, n.fret])).toEqual([
    [6, 3],
    [1, 1],
  ]);
  expect(findings.map((f) => f.rule)).toEqual(["tab-turned"]);
});

for (const [what, text] of [
  ["prose", "One fine day\nshe played."],
  ["a bass line of four strings", "G|-0-\nD|---\nA|-2-\nE|---"],
  ["six lines of dashes", "e|-----\nB|-----\nG|-----\nD|-----\nA|-----\nE|-----"],
] as const)
  test(`sheet/read-tab: ${what} is refused with line and column`, () => {
    expect(() => sheetFromText(text)).toThrow(
      expect.objectContaining({ code: "bad-tab", message: expect.stringMatching(/line 1, column 1/) }),
    );
  });

test("sheet/parse: a text bruised anywhere gives music or an error with a code, and is written again in the same bytes", () => {
  const texts = fc.sample(anySheet, { numRuns: 30, seed: 21 }).map(sheetToText);
  texts.push(FOREIGN, OWN, plainTab(studyNamed("low-tide")), plainTab(studyNamed("gate-latch")));
  fc.assert(
    fc.property(
      fc.constantFrom(...texts),
      fc.double({ min: 0, max: 1, noNaN: true }),
      fc.nat(12),
      fc.oneof(
        fc.string({ maxLength: 5 }),
        fc.constantFrom("\n", "|", "-", "12", "g3'", "\t", "hold 9", ":|", "99", "x2y"),
      ),
      (text, share, len, put) => {
        const from = Math.floor(share * text.length);
        const bruised = text.slice(0, from) + put + text.slice(from + len);
        let again: string;
        try {
          again = sheetToText(sheetFromText(bruised).sheet);
        } catch (e) {
          expect(e).toBeInstanceOf(PulgarError);
          return;
        }
        const once = sheetFromText(again);
        expect(once.findings).toEqual([]);
        expect(sheetToText(once.sheet)).toBe(again);
      },
    ),
    { numRuns: 600, seed: 22 },
  );
});
