import { spawnSync } from "node:child_process";
import meydaModule from "meyda";
import { expect, test } from "vitest";
import { PulgarError } from "../../src/base/errors.js";
import { encodeWav } from "../../src/export/wav.js";
import { backingTrack } from "../../src/play/backing.js";
import { loudnessLufs, truePeak } from "../../src/play/loudness.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import { hasProgram, testNeeding } from "../helpers/needs.js";
import { studyNamed } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";
import { sameSamples } from "./tone.js";

// As in src/audio/quality.ts: the default export of a CommonJS file is the module record by Node's rules, the object itself by a bundler's.
const Meyda = ("default" in meydaModule ? meydaModule.default : meydaModule) as typeof meydaModule.default;
const RATE = 44100;
const level = (x: Float32Array, freqHz: number, fromSec: number, untilSec: number): number => {
  let re = 0;
  let im = 0;
  for (let k = Math.round(fromSec * RATE); k < untilSec * RATE; k++) {
    re += (x[k] ?? 0) * Math.cos((2 * Math.PI * freqHz * k) / RATE);
    im += (x[k] ?? 0) * Math.sin((2 * Math.PI * freqHz * k) / RATE);
  }
  return Math.hypot(re, im);
};

testNeeding(
  hasProgram("ffmpeg", ["-version"]),
  "ffmpeg",
  "backing: -16 LUFS and a true peak under -1 dB by ffmpeg's ebur128, in each meter and feel",
  async () => {
    for (const name of [
      "mixolydian-over-a",
      "stones-in-the-brook",
      "corner-table",
      "three-windows",
      "rain-on-slate",
    ])
      for (const heldBass of [false, true]) {
        const made = await backingTrack(toSheet(studyNamed(name)), {
          sampleRateHz: RATE,
          countInBeats: 4,
          heldBass,
        });
        const wav = encodeWav([made.left, made.right], RATE);
        const seen = spawnSync(
          "ffmpeg",
          ["-hide_banner", "-nostats", "-f", "wav", "-i", "-", "-af", "ebur128=peak=true", "-f", "null", "-"],
          { input: wav, maxBuffer: 1 << 26 },
        );
        const summary = seen.stderr.toString().split("Summary:")[1] ?? "";
        expect(Math.abs(Number(/I:\s+(-?[\d.]+) LUFS/.exec(summary)?.[1]) + 16), name).toBeLessThan(0.25);
        expect(Number(/Peak:\s+(-?[\d.]+) dBFS/.exec(summary)?.[1]), name).toBeLessThan(-1);
      }
  },
);

test("backing: as long as the form, starting after the count-in, at any share of the tempo", async () => {
  const sheet = toSheet(studyNamed("mixolydian-over-a"));
  const formSec = (8 * 4 * 60) / sheet.grid.tempoBpm;
  for (const percent of [50, 100]) {
    const made = await backingTrack(sheet, { sampleRateHz: RATE, countInBeats: 4, percent, rounds: 2 });
    const slow = 100 / percent;
    expect(made.startSec).toBeCloseTo(((4 * 60) / sheet.grid.tempoBpm) * slow, 6);
    expect(made.left.length / RATE).toBeCloseTo(made.startSec + 2 * formSec * slow + 2, 2);
  }
});

test("backing: the bass follows the chords, or holds the tonic when asked", async () => {
  const base = toSheet(studyNamed("mixolydian-over-a"));
  const chords = base.chords.map((c, idx) => ({
    ...c,
    symbol: idx % 2 === 0 ? "A" : "G",
    root: idx % 2 === 0 ? "A" : "G",
    bass: idx % 2 === 0 ? "A" : "G",
  }));
  const sheet: Sheet = { ...base, chords };
  const barSec = 240 / sheet.grid.tempoBpm;
  const [lowG, lowA] = [97.999, 110]; // G2 and A2 by equal temperament
  for (const heldBass of [false, true]) {
    const { left } = await backingTrack(sheet, { sampleRateHz: RATE, heldBass });
    const inBarTwo =
      level(left, lowG, barSec + 0.1, 2 * barSec - 0.1) / level(left, lowA, barSec + 0.1, 2 * barSec - 0.1);
    if (heldBass) expect(inBarTwo).toBeLessThan(0.5);
    else expect(inBarTwo).toBeGreaterThan(2);
  }
});

test("backing: it is neither dull nor shrill, no sample is clipped, and beats stand out of what rings (centroid by meyda 5.6.3)", async () => {
  const sheet = toSheet(studyNamed("mixolydian-over-a"));
  const { left, right, startSec } = await backingTrack(sheet, { sampleRateHz: RATE, countInBeats: 4 });
  const mono = left.map((x, k) => (x + (right[k] ?? 0)) / 2);
  Meyda.bufferSize = 4096;
  const centroids: number[] = [];
  for (let at = Math.round(startSec * RATE); at + 4096 < mono.length - 2 * RATE; at += 4096) {
    const bin = Meyda.extract("spectralCentroid", mono.subarray(at, at + 4096));
    centroids.push((Number(bin) * RATE) / 4096);
  }
  const mean = centroids.reduce((sum, hz) => sum + hz, 0) / centroids.length;
  // By amplitude, as meyda reckons it, plucked guitar with a soft brush lies between about 500 Hz and 3 kHz (measured here, no source).
  expect(mean).toBeGreaterThan(500);
  expect(mean).toBeLessThan(3000);
  expect(left.every((x) => Math.abs(x) < 0.98) && right.every((x) => Math.abs(x) < 0.98)).toBe(true);
  const beatSec = 60 / sheet.grid.tempoBpm;
  const energy = (fromSec: number, lenSec: number): number =>
    mono.subarray(fromSec * RATE, (fromSec + lenSec) * RATE).reduce((sum, x) => sum + x * x, 0) / lenSec;
  const beats = Array.from({ length: 16 }, (_, k) => startSec + k * beatSec);
  const on = beats.reduce((sum, sec) => sum + energy(sec, 0.08), 0);
  const between = beats.reduce((sum, sec) => sum + energy(sec + 0.8 * beatSec, 0.08), 0);
  expect(10 * Math.log10(on / between)).toBeGreaterThan(2);
});

test("backing: the same sheet gives the same samples, and a sheet without chords is refused", async () => {
  const sheet = toSheet(studyNamed("low-tide"));
  const one = await backingTrack(sheet, { sampleRateHz: 22050 });
  const two = await backingTrack(sheet, { sampleRateHz: 22050 });
  expect(sameSamples(one.left, two.left)).toBe(true);
  expect(Number.isFinite(loudnessLufs([one.left, one.right], 22050))).toBe(true);
  expect(truePeak([one.left, one.right])).toBeLessThan(10 ** (-1 / 20));
  await expect(backingTrack({ ...sheet, chords: [] }, { sampleRateHz: 22050 })).rejects.toSatisfy(
    (e) => e instanceof PulgarError && e.code === "bad-sheet",
  );
});
