// Ctrl-C: exit code 130, nothing left behind, at any moment of any command; and the program as it is shipped does the same work whatever the
// number of its threads. How soon it ends is measured in tests/bench/speed.bench.ts. Sources: the project's own contract (README, "Exit
// codes"); 130 = 128 + SIGINT, as shells say it (POSIX.1-2017, Shell, 2.8.2).
import { spawn } from "node:child_process";
import { mkdirSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { beforeAll, expect, test } from "vitest";
import { builtProgram, runBuilt } from "../helpers/built.js";
import { ROOT } from "../helpers/needs.js";
import { tempFolder } from "../helpers/run-cli.js";

const folder = tempFolder();
const work = join(folder, "work");
const sample = join(ROOT, "samples/mixolydian-over-a.wav");
const sheet = join(ROOT, "samples/mixolydian-over-a.tab.txt");
const drafted = join(work, "mixolydian-over-a.sheet.json"); // with the beat times that slow versions need
const long = join(folder, "long.wav"); // ten minutes: every step of the work takes a second or more
let main: string;

/** The sample's 16-bit sound over and over. Its header is the plain one of 44 bytes (Microsoft RIFF WAVE). */
function overAndOver(sec: number): Uint8Array {
  const bytes = readFileSync(sample);
  const data = bytes.subarray(44);
  const copies = Math.ceil((sec * bytes.readUInt32LE(28)) / data.length); // s · byte/s ÷ byte
  const head = Buffer.from(bytes.subarray(0, 44));
  head.writeUInt32LE(36 + copies * data.length, 4);
  head.writeUInt32LE(copies * data.length, 40);
  return Buffer.concat([head, ...Array.from({ length: copies }, () => data)]);
}

beforeAll(async () => {
  main = builtProgram(join(folder, "program"));
  mkdirSync(work);
  const ended = await runBuilt(main, ["transcribe", sample, "--tempo", "96", "--out", work, "--quiet"]);
  expect(ended.code).toBe(0);
  writeFileSync(long, overAndOver(600));
});

/** Starts a command and sends SIGINT some ms after it has said `word`. */
async function interrupted(
  argv: readonly string[],
  word: RegExp | undefined,
  afterMs: number,
): Promise<{ code: number | null; said: string }> {
  const child = spawn(process.execPath, [main, ...argv], { cwd: work, stdio: ["ignore", "pipe", "pipe"] });
  const exited = new Promise<number | null>((done) => child.on("exit", done));
  let said = "";
  const begun = new Promise<void>((done) => {
    const look = (part: Buffer): void => {
      said += part.toString();
      if (word?.test(said)) done();
    };
    child.stdout.on("data", look);
    child.stderr.on("data", look);
  });
  if (word) await Promise.race([begun, exited]);
  await new Promise((done) => setTimeout(done, afterMs));
  child.kill("SIGINT");
  return { code: await exited, said };
}

const out = join(work, "out");
const cases: [string, string[], RegExp, number][] = [
  ["transcribe while it reads", ["transcribe", long, "--tempo", "96", "--out", out], /reading/, 30],
  ["transcribe while it listens", ["transcribe", long, "--tempo", "96", "--out", out], /listening/, 300],
  ["check while it listens", ["check", long, sheet, "--fix", join(out, "fixed.tab.txt")], /listening/, 300],
  ["key while it listens", ["key", long], /listening/, 300],
  [
    "practice while it stretches",
    ["practice", drafted, "--take", sample, "--slow", "30", "--out", out],
    /slow/,
    0,
  ],
  ["review while it serves and listens", ["review", drafted, "--take", long], /http:/, 300],
];

for (const [name, argv, word, afterMs] of cases)
  test(`interrupt: ${name}`, async () => {
    const before = readdirSync(work);
    const { code, said } = await interrupted(argv, word, afterMs);
    expect(said).toMatch(word);
    expect(code).toBe(130);
    expect(said).not.toContain("wrote");
    expect(readdirSync(work)).toEqual(before);
  });

test("interrupt: export at ten moments leaves a whole file or none", async () => {
  const seen = new Set<number | null>();
  const formats = ["pdf", "svg", "wav", "musicxml"];
  for (let k = 0; k < 10; k++) {
    const format = formats[k % formats.length] ?? "pdf";
    const path = join(work, `x${k}.${format}`);
    const { code } = await interrupted(
      ["export", sheet, "--to", format, "--out", path],
      undefined,
      250 + 130 * k,
    );
    seen.add(code);
    const parts = readdirSync(work).filter((name) => name.endsWith(".part"));
    expect(parts).toEqual([]);
    if (!readdirSync(work).includes(`x${k}.${format}`)) continue;
    const bytes = readFileSync(path);
    if (format === "pdf") expect(bytes.subarray(-6).toString()).toContain("%%EOF"); // ISO 32000-1, 7.5.5
    if (format === "svg" || format === "musicxml")
      expect(bytes.toString().trimEnd()).toMatch(/<\/(svg|score-partwise)>$/);
    if (format === "wav") expect(bytes.readUInt32LE(4)).toBe(bytes.length - 8);
  }
  expect([...seen].every((code) => code === 130 || code === 0 || code === null)).toBe(true); // null: before it had begun
  expect(seen.has(130)).toBe(true);
});
