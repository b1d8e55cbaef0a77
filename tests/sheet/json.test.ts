import fc from "fast-check";
import { expect, test } from "vitest";
import { PulgarError } from "../../src/base/errors.js";
import { sheetFromJson, sheetToJson } from "../../src/sheet/json.js";
import { sheetToText } from "../../src/sheet/text.js";
import { studyNamed } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";
import { anySheet } from "./any-sheet.js";

test("sheet/json: a sheet written as JSON and read back is the same sheet", () => {
  fc.assert(
    fc.property(anySheet, (sheet) => {
      expect(sheetFromJson(JSON.parse(JSON.stringify(sheetToJson(sheet))))).toEqual(sheet);
    }),
    { numRuns: 300, seed: 3 },
  );
});

test("sheet/json: the fixed names of the document stand where outside checks look for them", () => {
  const json = JSON.parse(JSON.stringify(sheetToJson(toSheet(studyNamed("mixolydian-over-a")))));
  expect(json).toMatchObject({
    format: "pulgar.sheet",
    version: 1,
    tuning: { openMidi: [40, 45, 50, 55, 59, 64] },
    capo: 0,
    grid: { tempoBpm: 96, tempoFrom: "user", meter: { beats: 4, unit: 4 }, feel: "straight" },
    mode: { tonic: "A", mode: "mixolydian" },
  });
  expect(json.notes[0]).toMatchObject({
    midi: 45,
    string: 5,
    fret: 0,
    finger: "p",
    bar: 1,
    beat: 1,
    by: "hand",
  });
  expect(json.notes[1]).toMatchObject({ beat: 1.5, string: 3, fret: 2, alternatives: [] });
  expect(json.chords[1]).toMatchObject({ bar: 2, beat: 1, symbol: "G/A", root: "G", bass: "A" });
});

test("sheet/json: a document of the fixed names alone is read, places from beats", () => {
  const sheet = sheetFromJson({
    format: "pulgar.sheet",
    version: 1,
    tuning: { openMidi: [40, 45, 50, 55, 59, 64] },
    capo: 2,
    grid: { tempoBpm: 90, meter: { beats: 3, unit: 4 }, beatSec: [0, 1, 2, 3] },
    notes: [{ midi: 57, string: 3, fret: 0, bar: 1, beat: 2.5 }],
  });
  expect(sheet.notes[0]).toMatchObject({ tick: 36, lengthTicks: 36, by: "machine" });
  expect(sheet.grid.barCount).toBe(1);
});

const good = (): Record<string, unknown> =>
  JSON.parse(JSON.stringify(sheetToJson(toSheet(studyNamed("mixolydian-over-a")))));
for (const [what, path, spoil] of [
  ["a fret that is a word", "notes[3].fret", (j: never) => ((j as Doc).notes[3].fret = "two")],
  ["string 7", "notes[0].string", (j: never) => ((j as Doc).notes[0].string = 7)],
  ["a tick past the bar", "notes[0].tick", (j: never) => ((j as Doc).notes[0].tick = 96)],
  ["no tempo", "grid.tempoBpm", (j: never) => ((j as Doc).grid.tempoBpm = undefined)],
  ["five strings", "tuning.openMidi", (j: never) => (j as Doc).tuning.openMidi.pop()],
  ["a mode of no name", "mode.mode", (j: never) => ((j as Doc).mode.mode = "hypolocrian")],
  ["another format", "format", (j: never) => ((j as Doc).format = "else")],
  ["a later version", "version", (j: never) => ((j as Doc).version = 2)],
] as const)
  test(`sheet/json: ${what} is refused by its path`, () => {
    const json = good();
    spoil(json as never);
    try {
      sheetFromJson(JSON.parse(JSON.stringify(json)));
      expect.unreachable();
    } catch (e) {
      expect(e).toBeInstanceOf(PulgarError);
      expect((e as PulgarError).code).toBe("bad-sheet");
      expect((e as PulgarError).message.startsWith(`${path}:`)).toBe(true);
    }
  });

test("sheet/json: any value at the door gives a sheet or the error bad-sheet", () => {
  fc.assert(
    fc.property(fc.anything(), fc.string(), (value, key) => {
      const json: Record<string, unknown> = { ...good(), [key]: value };
      for (const name of ["notes", "grid", "chords", "mode", "pattern"]) {
        try {
          sheetToText(sheetFromJson({ ...json, [name]: value }));
        } catch (e) {
          expect(e).toBeInstanceOf(PulgarError);
          expect((e as PulgarError).code).toBe("bad-sheet");
        }
      }
    }),
    { numRuns: 300, seed: 5 },
  );
});

// biome-ignore lint/suspicious/noExplicitAny: spoiled on purpose
type Doc = any;
