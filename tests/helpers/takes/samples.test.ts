import { existsSync, readdirSync, readFileSync, statSync } from "node:fs";
import { join } from "node:path";
import decode from "audio-decode";
import { expect, test } from "vitest";
import { ROOT } from "../needs.js";

type Index = {
  format: string;
  samples: {
    file: string;
    licence: string;
    attribution: string;
    durationSec: number;
    sampleRateHz: number;
    openMidi: number[];
    capo: number;
    beatSec: number[];
    meter: { beats: number };
    notes: { bar: number; midi: number; string: number; fret: number; onsetSec: number; offsetSec: number }[];
    chords: { startSec: number; endSec: number }[];
  }[];
  sheets: { file: string; take: string; planted: { differences: unknown[] }[] }[];
};

const FOLDER = join(ROOT, "samples");
const index = JSON.parse(readFileSync(join(FOLDER, "index.json"), "utf8")) as Index;

test("samples: every file is listed, every listed file is there and under 1 MB", () => {
  const listed = [
    ...index.samples.map((s) => s.file),
    ...index.sheets.map((s) => s.file),
    "index.json",
    "README.md",
  ];
  expect(index.samples.length).toBeGreaterThanOrEqual(4);
  for (const file of listed) {
    expect(existsSync(join(FOLDER, file)), file).toBe(true);
    expect(statSync(join(FOLDER, file)).size, file).toBeLessThan(1_000_000);
  }
  expect(readdirSync(FOLDER).filter((f) => !listed.includes(f))).toEqual([]);
});

test("samples: each says its licence and where its notes come from", () => {
  for (const s of index.samples) {
    expect(s.licence).toBe("CC-BY-3.0");
    expect(s.attribution).toContain("tonejs-instruments");
  }
});

test("samples: notes, beats and chords agree with each other and with the length of the sound", async () => {
  for (const s of index.samples) {
    const sound = await decode(readFileSync(join(FOLDER, s.file)));
    expect(
      Math.abs((sound.channelData[0] as Float32Array).length / sound.sampleRate - s.durationSec),
      s.file,
    ).toBeLessThan(0.05);
    const bars = Math.max(...s.notes.map((n) => n.bar));
    expect(s.beatSec.length).toBe(bars * s.meter.beats + 1);
    for (const n of s.notes) {
      expect(n.midi).toBe((s.openMidi[6 - n.string] as number) + s.capo + n.fret);
      expect(n.offsetSec).toBeLessThan(s.durationSec);
      const barStart = s.beatSec[(n.bar - 1) * s.meter.beats] as number;
      expect(n.onsetSec).toBeGreaterThan(barStart - 0.05);
    }
    expect(s.chords[0]?.startSec).toBe(s.beatSec[0]);
    expect(s.chords.at(-1)?.endSec).toBe(s.beatSec.at(-1));
  }
});

test("samples: one tab is right and the other has one wrong fret", () => {
  expect(index.sheets.map((s) => s.planted.flatMap((p) => p.differences).length)).toEqual([0, 1, 1]);
  const [right, wrong] = index.sheets.map((s) => readFileSync(join(FOLDER, s.file), "utf8"));
  const differing = [...(right ?? "")].filter((c, k) => c !== wrong?.[k]);
  expect(differing.length).toBe(1);
});
