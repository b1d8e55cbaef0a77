// The whole job on the samples, whose truth is known because they were composed here (samples/index.json); notes scored as mir_eval does.
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { openTake } from "../cli/decoder.js";
import { type OpenListener, openListener } from "../cli/listener-runtime.js";
import { draftSheet } from "../src/pipeline.js";
import { sheetToJson } from "../src/sheet/json.js";
import type { Sheet } from "../src/sheet/sheet.js";
import { parseTuning } from "../src/theory/tuning.js";
import { ROOT } from "./helpers/needs.js";
import { scoreNotes } from "./helpers/score/notes.js";

type Truth = {
  file: string;
  tuning: string;
  openMidi: number[];
  capo: number;
  tempoBpm: number;
  meter: { beats: number; unit: number };
  mode: { tonic: string; mode: string; undecided: { between: [string, string] }[] };
  notes: {
    onsetSec: number;
    offsetSec: number;
    midi: number;
    string: number;
    fret: number;
    bar: number;
    beat: number;
  }[];
};

const index = JSON.parse(readFileSync(join(ROOT, "samples/index.json"), "utf8")) as { samples: Truth[] };
let listener: OpenListener;
beforeAll(async () => {
  listener = await openListener();
});
afterAll(() => listener.close());

async function draft(truth: Truth): Promise<Sheet> {
  const { take } = await openTake(join(ROOT, "samples", truth.file));
  const { sheet } = await draftSheet(
    take,
    {
      tempoBpm: truth.tempoBpm,
      meter: truth.meter,
      tuningName: truth.tuning,
      openMidi: truth.openMidi,
      capo: truth.capo,
      fileName: truth.file,
    },
    { runNet: listener.run, card: listener.card },
  );
  return sheet;
}

test("pipeline: there are samples with their truth", () => {
  expect(index.samples.length).toBeGreaterThanOrEqual(3);
});

for (const truth of index.samples) {
  test(`pipeline: ${truth.file} is drafted: notes, places, mode`, async () => {
    const sheet = await draft(truth);
    const heard = sheet.notes.map((n) => ({
      onsetSec: n.onsetSec ?? -1,
      offsetSec: n.offsetSec ?? 0,
      midi: n.midi,
    }));
    expect(scoreNotes(truth.notes, heard).onset.f1).toBeGreaterThan(0.95);
    const key = (n: { bar: number; midi: number }, beat: number): string =>
      `${n.bar}|${beat.toFixed(2)}|${n.midi}`;
    const places = new Map(sheet.notes.map((n) => [key(n, 1 + n.tick / 24), n]));
    const placed = truth.notes.filter((n) => places.has(key(n, n.beat)));
    expect(placed.length / truth.notes.length).toBeGreaterThan(0.93);
    const fretted = placed.filter((n) => places.get(key(n, n.beat))?.string === n.string);
    expect(fretted.length / placed.length).toBeGreaterThan(0.9);
    const modes = [truth.mode.mode, ...truth.mode.undecided.flatMap((u) => u.between)];
    expect([sheet.mode?.tonic, modes.includes(sheet.mode?.mode ?? "")]).toEqual([truth.mode.tonic, true]);
    expect(sheet.mode?.undecided.length).toBe(truth.mode.undecided.length);
  });
}

test("pipeline: the same take gives the same sheet, to the byte", async () => {
  const truth = index.samples[0];
  if (!truth) throw new Error("no sample");
  const [a, b] = [await draft(truth), await draft(truth)];
  expect(JSON.stringify(sheetToJson(a))).toBe(JSON.stringify(sheetToJson(b)));
});

test("pipeline: the JSON has the contract's names", async () => {
  const truth = index.samples[0];
  if (!truth) throw new Error("no sample");
  const json = sheetToJson(await draft(truth)) as Record<string, Record<string, unknown>>;
  expect([json.format, json.version]).toEqual(["pulgar.sheet", 1]);
  const wanted: Record<string, string[]> = {
    take: ["file", "durationSec", "sampleRateHz", "tuningCents"],
    grid: ["tempoBpm", "tempoFrom", "meter", "beatSec", "firstBeatSec", "feel"],
    mode: ["tonic", "mode", "confidence", "candidates", "undecided", "evidence"],
    pattern: ["beats", "hits", "bars", "departures"],
  };
  for (const [part, names] of Object.entries(wanted))
    for (const name of names) expect(json[part]).toHaveProperty(name);
  expect(json.tuning?.openMidi).toEqual(parseTuning("standard").openMidi);
  const notes = json.notes as unknown as Record<string, unknown>[];
  for (const name of [
    "onsetSec",
    "offsetSec",
    "midi",
    "string",
    "fret",
    "finger",
    "bar",
    "beat",
    "confidence",
    "by",
    "alternatives",
  ])
    expect(notes[0]).toHaveProperty(name);
  const chords = json.chords as unknown as Record<string, unknown>[];
  for (const name of [
    "startSec",
    "endSec",
    "bar",
    "beat",
    "symbol",
    "root",
    "bass",
    "confidence",
    "alternatives",
  ])
    expect(chords[0]).toHaveProperty(name);
  expect(json.form).toBeInstanceOf(Array);
  expect(json.findings).toBeInstanceOf(Array);
});
