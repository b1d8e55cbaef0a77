import { spawnSync } from "node:child_process";
import { existsSync, readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { parseMidi } from "midi-file";
import { expect, test } from "vitest";
import { playedBars, playedEvents } from "../../src/base/playback.js";
import { readSheet } from "../../src/sheet/read-any.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import { hasProgram, ROOT, testNeeding } from "../helpers/needs.js";
import { runCli, tempFolder } from "../helpers/run-cli.js";

const folder = tempFolder();
const SHEET = join(ROOT, "tests/fixtures/handouts/three-windows.tab.txt");
const ENDINGS = ["tab.txt", "sheet.json", "musicxml", "mxl", "mid", "svg", "pdf", "wav"];
const fileOf = (ending: string): string => join(folder, `three-windows.${ending}`);
const bytesOf = (ending: string): Uint8Array => new Uint8Array(readFileSync(fileOf(ending)));
const read = (path: string): Sheet => {
  const found = readSheet(new Uint8Array(readFileSync(path)), path);
  if (found.kind !== "tab") throw new Error(`${path} has no strings`);
  return found.sheet;
};
const plucks = (sheet: Sheet): string[] => {
  const bars = playedBars(sheet.grid, sheet.repeats);
  return playedEvents(sheet.notes, sheet.grid, bars).map(
    (e) => `${e.startBeat} ${e.note.string} ${e.note.fret}`,
  );
};

test("export: every format of a sheet with two repeats and an ending is written at once, and none loses what is played", async () => {
  const ran = await runCli(["export", SHEET, "--to", "all", "--out", folder, "--json"]);
  expect(ran.err).not.toMatch(/error/);
  expect(ran.code).toBe(0);
  expect(JSON.parse(ran.out).files.length).toBe(ENDINGS.length);
  expect(readdirSync(folder).sort()).toEqual(ENDINGS.map((e) => `three-windows.${e}`).sort());
  const sheet = read(SHEET);
  expect(sheet.repeats.length).toBe(2);
  const played = plucks(sheet);
  const bars = playedBars(sheet.grid, sheet.repeats);
  expect(bars.map((b) => b.bar)).toEqual([1, 2, 3, 4, 1, 2, 3, 4, 5, 6, 7, 8, 5, 6, 7, 9]); // by hand
  for (const ending of ["tab.txt", "sheet.json", "musicxml", "mxl"]) {
    const back = read(fileOf(ending));
    expect(back.repeats, ending).toEqual(sheet.repeats);
    expect(plucks(back), ending).toEqual(played);
  }
  const midi = parseMidi(bytesOf("mid"));
  const sounded = midi.tracks.flat().filter((e) => e.type === "noteOn" && e.velocity > 0);
  expect(sounded.length).toBe(played.length);
  const wav = new DataView(bytesOf("wav").buffer);
  const seconds = wav.getUint32(40, true) / wav.getUint32(28, true);
  expect(seconds).toBeCloseTo((16 * 3 * 60) / sheet.grid.tempoBpm + 1.5, 1);
  const svg = new TextDecoder().decode(bytesOf("svg"));
  for (const want of ["1–4 ×2", "5–9 ×2"]) expect(svg).toContain(want);
});

testNeeding(
  hasProgram("pdftotext", ["-v"]),
  "poppler's pdftotext",
  "export: the PDF of the same run says the repeats and numbers its endings",
  () => {
    expect(existsSync(fileOf("pdf"))).toBe(true);
    const made = spawnSync("pdftotext", ["-layout", fileOf("pdf"), "-"]);
    const text = made.stdout.toString();
    for (const want of ["1–4 ×2", "5–9 ×2", "Page 1 of"]) expect(text).toContain(want);
    expect(text).toMatch(/^\s+1\s+2\s*$/m); // the numbers over the endings
  },
);

testNeeding(
  hasProgram("ffprobe", ["-version"]),
  "ffprobe",
  "export: ffprobe reads the WAV of the same run as mono PCM at 44100 Hz",
  () => {
    const made = spawnSync("ffprobe", [
      "-v",
      "error",
      "-show_entries",
      "stream=codec_name,sample_rate,channels",
      "-of",
      "csv=p=0",
      fileOf("wav"),
    ]);
    expect(made.stderr.toString()).toBe("");
    expect(made.stdout.toString().trim()).toBe("pcm_s16le,44100,1");
  },
);

test("export: --repeats folds a section that comes back at once; without it every bar stays written", async () => {
  const path = join(ROOT, "tests/fixtures/handouts/stones-in-the-brook.tab.txt");
  const [plain, folded] = await Promise.all(
    [[], ["--repeats"]].map((flags) => runCli(["export", path, "--to", "text", "--out", "-", ...flags])),
  );
  const text = (ran: Awaited<ReturnType<typeof runCli>> | undefined): string =>
    new TextDecoder().decode(ran?.bytes[0]);
  expect(text(plain)).not.toContain("repeats:");
  expect(text(folded)).toContain("repeats: 1-5 x2 / ending 1 = 4 / ending 2 = 5");
});

for (const [what, args, message] of [
  ["an unknown format in a list", ["--to", "pdf,docx"], /--to docx/],
  ["several formats on standard output", ["--to", "pdf,svg", "--out", "-"], /one format, found 2/],
  ["no format", [], /--to/],
] as const)
  test(`export: ${what} is refused with exit code 2`, async () => {
    const ran = await runCli(["export", SHEET, ...args]);
    expect(ran.code).toBe(2);
    expect(ran.err).toMatch(message);
  });
