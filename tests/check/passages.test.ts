// The course of a take on real sound: a rendered sample of ours, cut at its true bar lines (samples/index.json says where they are) and
// joined again as by a player who leaves out, repeats, waits or begins anew. What must be said follows from the cut.
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { openTake } from "../../cli/decoder.js";
import { type OpenListener, openListener } from "../../cli/listener-runtime.js";
import { checkSheet } from "../../src/check/compare.js";
import type { CheckReport } from "../../src/check/report.js";
import { listen } from "../../src/notes/listen.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import { ROOT } from "../helpers/needs.js";
import { studyNamed } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";

const NAME = "mixolydian-over-a"; // bars 1 to 8 are the music 0 1 2 0 0 3 1 4 (groupOfBar)
const index = JSON.parse(readFileSync(join(ROOT, "samples/index.json"), "utf8"));
const truth = index.samples.find((s: { file: string }) => s.file === `${NAME}.wav`) as {
  beatSec: number[];
  notes: { onsetSec: number; offsetSec: number; midi: number }[];
};
const { beatSec } = truth;
const sheet: Sheet = { ...toSheet(studyNamed(NAME)), chords: [] };
let listener: OpenListener;
let sound: { samples: Float32Array; sampleRateHz: number };
beforeAll(async () => {
  listener = await openListener();
  sound = (await openTake(join(ROOT, `samples/${NAME}.wav`))).take;
});
afterAll(() => listener.close());

/** A stretch of the sample in seconds, or so much silence. */
type Piece = readonly [fromSec: number, toSec: number] | { silenceSec: number };
const END = 99;
/** Just before the first note of a bar, from 1. */
const line = (bar: number): number => (beatSec[(bar - 1) * 4] as number) - 0.03;

/** The pieces one after the other; each fades over 20 ms, as a hand stops a string. */
async function check(pieces: readonly Piece[], written: Sheet = sheet): Promise<CheckReport> {
  const { samples, sampleRateHz } = sound;
  const fadeLen = Math.round(0.02 * sampleRateHz);
  const parts = pieces.map((piece) => {
    if ("silenceSec" in piece) return new Float32Array(Math.round(piece.silenceSec * sampleRateHz));
    const part = samples.slice(Math.round(piece[0] * sampleRateHz), Math.round(piece[1] * sampleRateHz));
    for (let k = 0; k < fadeLen && part.length < samples.length; k++) {
      const at = part.length - 1 - k;
      part[at] = ((part[at] as number) * k) / fadeLen;
    }
    return part;
  });
  const take = { samples: new Float32Array(parts.reduce((n, p) => n + p.length, 0)), sampleRateHz };
  let at = 0;
  for (const part of parts) {
    take.samples.set(part, at);
    at += part.length;
  }
  return checkSheet(written, await listen(take, listener.run, { card: listener.card }));
}
const said = (report: CheckReport): string[] => report.findings.map((f) => `${f.rule}: ${f.message}`);

test("check/passages: the sample as it is: nothing to say, the sheet stands", async () => {
  const report = await check([[0, END]]);
  expect(said(report)).toEqual([]);
  expect(report.differences).toEqual([]);
});

test("check/passages: bars 2 and 3 cut out are left out, and only they are missing", async () => {
  const report = await check([
    [0, line(2)],
    [line(4), END],
  ]);
  expect(said(report)).toEqual([expect.stringMatching(/^left-out: Bars 2–3 /)]);
  expect([...new Set(report.differences.map((d) => `${d.kind} ${d.bar}`))]).toEqual([
    "missing 2",
    "missing 3",
  ]);
});

test("check/passages: bars 1 to 4 played twice are a section repeated, and no note is accused for it", async () => {
  const report = await check([
    [0, line(5)],
    [line(1), END],
  ]);
  expect(report.findings.map((f) => f.rule)).toEqual(["section-repeated"]);
  expect(report.findings[0]?.message).toMatch(/^Bars (1–4|5–8|2–5) /); // equal bars: which of them is not for the ear
  expect(report.differences).toEqual([]);
});

test("check/passages: three seconds of silence before bar 5 are a pause, and its notes are in time", async () => {
  const report = await check([[0, line(5)], { silenceSec: 3 }, [line(5), END]]);
  expect(said(report)).toEqual([expect.stringMatching(/^pause: A pause of 3\.\d s before bar 5/)]);
  // A string that still rings where the sound is cut begins anew after the silence: that is in the sound, and not of the player.
  const ringing = truth.notes.filter((n) => n.onsetSec < line(5) && n.offsetSec > line(5)).map((n) => n.midi);
  const others = report.differences.filter((d) => d.kind !== "extra" || !ringing.includes(d.playedMidi ?? 0));
  expect(others).toEqual([]);
});

test("check/passages: a bar and a half broken off before the whole is a false start", async () => {
  const report = await check([[0, beatSec[6] as number], { silenceSec: 1 }, [0.2, END]]);
  expect(report.findings.map((f) => f.rule)).toEqual(["false-start"]);
  expect(report.differences).toEqual([]);
});

test("check/passages: a sheet without the capo at fret 3 is told to have one", async () => {
  const without = {
    ...sheet,
    openMidi: sheet.openMidi.map((m) => m - 3),
    notes: sheet.notes.map((n) => ({ ...n, midi: n.midi - 3 })),
  };
  const report = await check([[0, END]], without);
  expect(said(report)).toEqual([expect.stringContaining("3 semitones above the sheet: a capo at fret 3?")]);
  expect(report.differences).toEqual([]);
});

test("check/passages: a fifth string written a tone too high is told to be tuned to A", async () => {
  const higher = {
    ...sheet,
    openMidi: sheet.openMidi.map((m, k) => (k === 1 ? m + 2 : m)), // strings 6 → 1
    notes: sheet.notes.map((n) => (n.string === 5 ? { ...n, midi: n.midi + 2 } : n)),
  };
  const report = await check([[0, END]], higher);
  expect(said(report)).toEqual([
    expect.stringContaining("String 5 sounds 2 semitones lower than written throughout: tuned to A?"),
  ]);
  expect(report.differences).toEqual([]);
});

test("check/passages: another study is not the same music", async () => {
  const other = { ...toSheet(studyNamed("stones-in-the-brook")), chords: [] };
  await expect(check([[0, END]], other)).rejects.toMatchObject({ code: "other-music" });
});
