// Bad input gets one clear error, exit code 2, and nothing lost. What counts as bad is the project's own contract (README).
import { chmodSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { hasProgram, ROOT, testNeeding } from "../helpers/needs.js";
import { runCli, tempFolder } from "../helpers/run-cli.js";
import { riffBytes, sine } from "../helpers/wav-bytes.js";

const folder = tempFolder();
const outDir = join(folder, "out");
const put = (name: string, bytes: Uint8Array | string): string => {
  const path = join(folder, name);
  writeFileSync(path, bytes);
  return path;
};
const sample = join(ROOT, "samples/mixolydian-over-a.wav");
const good = riffBytes([sine(220, 1, 22050)], 22050, 16);
const nan = sine(220, 1, 8000);
nan[77] = Number.NaN;
mkdirSync(join(folder, "nothing-in-here"));

const takes: [string, string, string][] = [
  ["missing", join(folder, "missing.wav"), "no such file"],
  ["a name under a file", join(put("file.wav", good), "take.wav"), "no such file"],
  ["empty", put("empty.wav", ""), "empty (0 bytes)"],
  ["text renamed to .wav", put("text.wav", "e|--0--1--|\nB|--1-----|\n".repeat(50)), "this is text"],
  [
    "random bytes",
    put(
      "noise.mp3",
      Uint8Array.from({ length: 5000 }, (_, i) => (i * i * 31 + i * 7 + 128) & 255),
    ),
    "",
  ],
  ["silent", put("silent.wav", riffBytes([new Array<number>(22050).fill(0)], 22050, 16)), "silent"],
  ["one sample long", put("one.wav", riffBytes([[0.5]], 22050, 16)), "1 samples"],
  ["NaN inside", put("nan.wav", riffBytes([nan], 8000, -32)), "sample 77 is not a number"],
  ["0 bits a sample", put("zero-bit.wav", riffBytes([sine(220, 1, 8000)], 8000, 0)), "0 bits"],
  ["cut short", put("cut.wav", readFileSync(sample).subarray(0, 200_000)), "ends early"],
  ["a rate of 4000 Hz", put("slow.wav", riffBytes([sine(220, 1, 4000)], 4000, 16)), "4000 Hz"],
  [
    "nine channels",
    put(
      "nine.wav",
      riffBytes(
        Array.from({ length: 9 }, () => sine(220, 1, 8000)),
        8000,
        16,
      ),
    ),
    "9 channels",
  ],
  ["a header with no data", put("head.wav", good.subarray(0, 44)), ""],
];

for (const [name, path, says] of takes)
  for (const commandName of ["transcribe", "key"] as const)
    test(`bad input: ${commandName} refuses a take that is ${name}`, async () => {
      const flags = commandName === "transcribe" ? ["--out", outDir] : [];
      const ran = await runCli([commandName, path, ...flags, "--quiet"]);
      expect(ran.code).toBe(2);
      expect(ran.out).toBe("");
      expect(ran.err.trim().split("\n")).toHaveLength(2);
      expect(ran.err).toMatch(/^error: .+\nhint: .+\n$/);
      expect(ran.err).toContain(says);
    });

test("bad input: nothing was written by all of these", () => {
  expect(readdirSync(folder)).not.toContain("out");
});

test("bad input: a folder without recordings is said to be one", async () => {
  const ran = await runCli(["transcribe", join(folder, "nothing-in-here"), "--quiet"]);
  expect([ran.code, ran.err]).toEqual([2, expect.stringContaining("no recordings in this folder")]);
});

testNeeding(
  hasProgram("ffmpeg", ["-version"]),
  "ffmpeg",
  "bad input: a video without sound is told from a broken one",
  async () => {
    const { spawnSync } = await import("node:child_process");
    const path = join(folder, "mute.mp4");
    const made = spawnSync("ffmpeg", [
      "-v",
      "error",
      "-y",
      "-f",
      "lavfi",
      "-i",
      "testsrc=d=1:s=64x64:r=5",
      "-pix_fmt",
      "yuv420p",
      path,
    ]);
    expect(made.status).toBe(0);
    const ran = await runCli(["transcribe", path, "--quiet"]);
    expect([ran.code, ran.err]).toEqual([2, expect.stringMatching(/no sound/)]);
  },
);

for (const [flags, says] of [
  [["--tempo", "0"], "--tempo 0"],
  [["--tempo", "fast"], "--tempo fast"],
  [["--meter", "4/5"], "--meter 4/5"],
  [["--tuning", "dadgat"], "Did you mean dadgad?"],
  [["--tuning", "E2 A2 D3"], "3 notes; need six"],
  [["--capo", "-1"], "--capo -1"],
  [["--capo", "13"], "--capo 13"],
  [["--start", "-3"], "--start -3"],
  [["--count-in", "2.5"], "--count-in 2.5"],
  [["--grid", "7"], "--grid 7"],
] as const)
  test(`bad input: transcribe ${flags.join(" ")} is refused before anything is read`, async () => {
    const ran = await runCli(["transcribe", sample, ...flags, "--out", outDir]);
    expect(ran.code).toBe(2);
    expect(ran.err).toContain(says);
    expect(readdirSync(folder)).not.toContain("out");
  });

test("bad input: what is there already is not overwritten, and not touched", async () => {
  const there = join(folder, "mixolydian-over-a.tab.txt");
  writeFileSync(there, "mine");
  const ran = await runCli(["transcribe", sample, "--out", folder, "--quiet"]);
  expect(ran.code).toBe(2);
  expect(ran.err).toContain("is there already");
  expect(ran.err).toContain("--force");
  expect(readFileSync(there, "utf8")).toBe("mine");
});

for (const [name, text] of [
  ["nonsense.tab.txt", "this is a letter\nto a friend\n"],
  ["broken.sheet.json", '{"format": "pulgar.sheet", "version": 1, "notes": 7}'],
  ["broken.json", "{"],
  [
    "bomb.musicxml",
    '<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "cccc"><!ENTITY d "&b;&b;&b;">]><score-partwise>&d;</score-partwise>',
  ],
  ["cut.musicxml", '<?xml version="1.0"?><score-partwise version="4.0"><part-list>'],
  ["broken.mid", "MThd and then nothing"],
  ["broken.mxl", "PK\u0003\u0004 and then nothing"],
] as const)
  test(`bad input: export and check refuse the sheet ${name}`, async () => {
    const path = put(name, text);
    for (const argv of [
      ["export", path, "--to", "text", "--out", "-"],
      ["check", sample, path],
    ]) {
      const ran = await runCli([...argv, "--quiet"]);
      expect(ran.code).toBe(2);
      expect(ran.err).toMatch(/^error: .+\nhint: .+\n$/);
    }
  });

test("bad input: an unreadable folder for the output is said and leaves nothing half written", async () => {
  if (process.getuid?.() === 0) {
    // root may write anywhere: a file in the folder's place stands for it
    const ran = await runCli([
      "export",
      join(ROOT, "samples/mixolydian-over-a.tab.txt"),
      "--to",
      "midi",
      "--out",
      join(folder, "file.wav", "x.mid"),
    ]);
    expect([ran.code, ran.err]).toEqual([2, expect.stringContaining("could not be written")]);
    return;
  }
  const closed = join(folder, "closed");
  mkdirSync(closed);
  chmodSync(closed, 0o500);
  const ran = await runCli([
    "export",
    join(ROOT, "samples/mixolydian-over-a.tab.txt"),
    "--to",
    "midi",
    "--out",
    join(closed, "x.mid"),
  ]);
  expect([ran.code, readdirSync(closed)]).toEqual([2, []]);
});
