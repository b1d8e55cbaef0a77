import { readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { beforeAll, expect, test } from "vitest";
import { sheetToJson } from "../../src/sheet/json.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import { ROOT } from "../helpers/needs.js";
import { runCli, tempFolder } from "../helpers/run-cli.js";
import { studyNamed } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";

const folder = tempFolder();
const SHEET = join(folder, "study.sheet.json");
const TAKE = join(ROOT, "samples/mixolydian-over-a.wav");
const secondsOf = (path: string): number => {
  const view = new DataView(new Uint8Array(readFileSync(path)).buffer);
  return view.getUint32(40, true) / view.getUint32(28, true);
};
let beatSec: number[] = [];

beforeAll(() => {
  const index = JSON.parse(readFileSync(join(ROOT, "samples/index.json"), "utf8"));
  beatSec = index.samples.find((s: { file: string }) => s.file === "mixolydian-over-a.wav").beatSec;
  const base = toSheet(studyNamed("mixolydian-over-a"));
  const sheet: Sheet = { ...base, grid: { ...base.grid, beatSec, firstBeatSec: beatSec[0] ?? 0 } };
  writeFileSync(SHEET, JSON.stringify(sheetToJson(sheet)));
});

test("practice command: slow versions, a section by its label and a backing of two rounds have the lengths that the beats say", async () => {
  const out = join(folder, "section");
  const args = ["--take", TAKE, "--slow", "50", "--part", "b", "--loops", "2", "--rounds", "2", "--out", out];
  const ran = await runCli(["practice", SHEET, ...args]);
  expect(ran.err).not.toMatch(/error/);
  expect(ran.code).toBe(0);
  expect(ran.out).toMatch(/volume[\s\S]*Rest/);
  expect(readdirSync(out).sort()).toEqual(["study-50-percent.wav", "study-backing.wav"]);
  // Section B is bars 5 to 8, beats 17 to 33 of the take; four beats of count-in before it; after the last bar the strings ring for 1.5 s.
  const [from, until] = [beatSec[16] ?? 0, beatSec[32] ?? 0];
  const countSec = 4 * ((beatSec[17] ?? 0) - from) * 2;
  const want = countSec + 2 * 2 * (until - from) + 2 * 1.5 + 0.04 + 0.05;
  expect(secondsOf(join(out, "study-50-percent.wav"))).toBeCloseTo(want, 1);
  const form = until - (beatSec[0] ?? 0);
  const beat = (beatSec[1] ?? 0) - (beatSec[0] ?? 0);
  expect(secondsOf(join(out, "study-backing.wav"))).toBeCloseTo(4 * beat + 2 * form + 2, 1);
});

test("practice command: a climbing series of one bar is numbered and gets shorter", async () => {
  const out = join(folder, "climb");
  const args = ["--take", TAKE, "--climb", "90-100", "--bars", "2", "--rounds", "1", "--out", out];
  expect((await runCli(["practice", SHEET, ...args])).code).toBe(0);
  const climbs = readdirSync(out)
    .filter((f) => f.includes("climb"))
    .sort();
  expect(climbs).toEqual(["90", "95", "100"].map((p, k) => `study-climb-0${k + 1}-${p}-percent.wav`));
  const lengths = climbs.map((f) => secondsOf(join(out, f)));
  expect(lengths).toEqual([...lengths].sort((a, b) => b - a));
});

for (const [what, args, message] of [
  ["a section that the form lacks", ["--part", "Z"], /--part Z: the form has A, B/],
  ["bars and a section at once", ["--bars", "1", "--part", "A"], /--bars and --part/],
  ["a held bass and none", ["--held-bass", "--no-held-bass"], /only one/],
] as const)
  test(`practice command: ${what} is refused with exit code 2`, async () => {
    const ran = await runCli(["practice", SHEET, "--take", TAKE, "--out", join(folder, "no"), ...args]);
    expect(ran.code).toBe(2);
    expect(ran.err).toMatch(message);
  });
