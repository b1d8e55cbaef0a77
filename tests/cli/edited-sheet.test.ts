/** `pulgar transcribe` over a sheet that a hand has edited: every edit stays, the rest is decided again, and what changed is said. */
import { readFile, writeFile } from "node:fs/promises";
import { join } from "node:path";
import { expect, test } from "vitest";
import { sheetFromJson } from "../../src/sheet/json.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import { ROOT } from "../helpers/needs.js";
import { runCli, tempFolder } from "../helpers/run-cli.js";

const dir = tempFolder();
const text = join(dir, "mixolydian-over-a.tab.txt");
const json = join(dir, "mixolydian-over-a.sheet.json");
const transcribe = (...more: string[]) =>
  runCli([
    "transcribe",
    join(ROOT, "samples/mixolydian-over-a.wav"),
    ...["--tempo", "96", "--out", dir],
    ...more,
  ]);
const sheet = async (): Promise<Sheet> => sheetFromJson(JSON.parse(await readFile(json, "utf8")));
const at = (s: Sheet, bar: number, tick: number, string: number) =>
  s.notes.find((n) => n.bar === bar && n.tick === tick && n.string === string);

test("cli transcribe: edits made in a text editor outlive two more runs", async () => {
  expect((await transcribe()).code).toBe(0);
  const draft = await sheet();
  const lines = (await readFile(text, "utf8")).split("\n");
  const first = (start: string): number => lines.findIndex((line) => line.startsWith(start));
  const change = (row: number, from: string | RegExp, to: string): void => {
    const line = lines[row] ?? "";
    lines[row] = line.replace(from, to);
    expect(lines[row], `${from} in ${line}`).not.toBe(line);
  };
  // bar 1 of the sample: A over the open fifth string, then G string fret 2 on beat 1½ and 3½, B string fret 2 on beats 2 and 3
  change(first("     G|"), /(G\|-*)2/, "$14"); // another fret
  change(first("     B|"), /(B\|-*)2/, "$1-"); // a note taken out
  change(first("     D|"), "D|--", "D|-0"); // a note put in, on beat 1
  change(first("chord"), "G/A", "G/B");
  change(first("title:"), /title: .*/, "title: By hand");
  await writeFile(text, lines.join("\n"));
  const edited = [
    [1, 12, 3, 4],
    [1, 0, 4, 0],
  ] as const;

  for (const run of ["second", "third"]) {
    const { code, out } = await transcribe("--force");
    expect(code, run).toBe(0);
    expect(out).toMatch(/corrections kept/);
    const now = await sheet();
    for (const [bar, tick, string, fret] of edited)
      expect(at(now, bar, tick, string), `${run}: ${bar}:${tick}:${string}`).toMatchObject({
        fret,
        by: "hand",
      });
    expect(at(draft, 1, 24, 2)?.fret).toBe(2);
    expect(at(now, 1, 24, 2)).toBeUndefined();
    expect(now.chords.find((c) => c.bar === 2)).toMatchObject({ symbol: "G/B", by: "hand" });
    expect(now.title).toBe("By hand");
    const touched = new Set(["1:12", "1:0", "1:24"]);
    const rest = (s: Sheet) =>
      s.notes.filter((n) => !touched.has(`${n.bar}:${n.tick}`)).map((n) => [n.bar, n.tick, n.midi]);
    expect(rest(now)).toEqual(rest(draft)); // what is heard has not changed; only places may
  }
  const { out } = await transcribe("--force", "--afresh");
  expect(out).not.toMatch(/corrections kept/);
  expect(at(await sheet(), 1, 12, 3)?.fret).toBe(2);
}, 180_000); // four takes listened to
