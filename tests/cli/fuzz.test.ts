// Mutated inputs by fixed seeds: nothing but a PulgarError may come out, in bounded time and memory.
// 24 000 inputs and more; FUZZ_TIMES multiplies them for a longer run by hand (FUZZ_TIMES=20 npx vitest run tests/cli/fuzz.test.ts).
// A rejection that nobody meets fails the run by itself: vitest counts it as an error.
import { spawnSync } from "node:child_process";
import { cpSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test, vi } from "vitest";
import { parseCommandLine } from "../../cli/arguments.js";
import { COMMANDS } from "../../cli/command-table.js";
import { openTake } from "../../cli/decoder.js";
import { openListener } from "../../cli/listener-runtime.js";
import { sniffContainer } from "../../src/audio/sniff.js";
import { PulgarError } from "../../src/base/errors.js";
import { toMidi } from "../../src/export/midi.js";
import { toMusicXml, toMxl } from "../../src/export/musicxml.js";
import { parseCard } from "../../src/notes/card.js";
import { sheetToJson } from "../../src/sheet/json.js";
import { readSheet } from "../../src/sheet/read-any.js";
import { sheetToText } from "../../src/sheet/text.js";
import { hasProgram, ROOT, testNeeding } from "../helpers/needs.js";
import { runCli } from "../helpers/run-cli.js";
import { studyNamed } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";

vi.setConfig({ testTimeout: 300_000 });
const TIMES = Number(process.env.FUZZ_TIMES ?? "1");
const folder = mkdtempSync(join(tmpdir(), "pulgar-fuzz-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** xorshift32 (Marsaglia 2003): 0 ≤ x < 1. */
function chance(seed: number): () => number {
  let state = seed | 0 || 1;
  return () => {
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    return (state >>> 0) / 2 ** 32;
  };
}

/** One to eight wounds: flipped bits, cuts, doubled stretches, swapped ends, numbers made huge, bytes of markup. */
function mutate(bytes: Uint8Array, random: () => number): Uint8Array {
  let out = bytes.slice();
  const wounds = 1 + Math.floor(random() * 8);
  const at = (): number => Math.floor(random() * out.length);
  for (let w = 0; w < wounds && out.length > 0; w++) {
    const kind = Math.floor(random() * 7);
    if (kind === 0) {
      const b = at();
      out[b] = (out[b] ?? 0) ^ (1 << Math.floor(random() * 8));
    }
    if (kind === 1) out = out.subarray(0, at());
    if (kind === 2) {
      const [a, b] = [at(), at()].sort((x, y) => x - y) as [number, number];
      const part = out.subarray(a, Math.min(b, a + 2000));
      out = Uint8Array.from([...out.subarray(0, b), ...part, ...out.subarray(b)]);
    }
    if (kind === 3) {
      const [a, b] = [at(), at()].sort((x, y) => x - y) as [number, number];
      out = Uint8Array.from([...out.subarray(0, a), ...out.subarray(Math.min(b, a + 500))]);
    }
    if (kind === 4) {
      const b = at();
      out.fill(0xff, b, Math.min(out.length, b + 4));
    }
    if (kind === 5) {
      const digits = out.findIndex((x, k) => k >= at() && x >= 48 && x <= 57);
      if (digits >= 0)
        out = Uint8Array.from([
          ...out.subarray(0, digits),
          ...new TextEncoder().encode("99999999"),
          ...out.subarray(digits),
        ]);
    }
    if (kind === 6) {
      const junk = ["<", ">", "&x;", '"', "{", "]", "|", "-", "\0", "\u{1f3b8}", "<!DOCTYPE a>", "e|"];
      const b = at();
      const text = new TextEncoder().encode(junk[Math.floor(random() * junk.length)] ?? "");
      out = Uint8Array.from([...out.subarray(0, b), ...text, ...out.subarray(b)]);
    }
  }
  return out;
}

const sheet = toSheet(studyNamed("stones-in-the-brook"));
const encode = (text: string): Uint8Array => new TextEncoder().encode(text);
let seeds: { name: string; bytes: Uint8Array; count: number }[] = [];
beforeAll(() => {
  seeds = [
    { name: "a.tab.txt", bytes: encode(sheetToText(sheet)), count: 4000 },
    { name: "b.tab.txt", bytes: readFileSync(join(ROOT, "samples/mixolydian-over-a.tab.txt")), count: 4000 },
    { name: "a.sheet.json", bytes: encode(JSON.stringify(sheetToJson(sheet))), count: 2000 },
    { name: "a.musicxml", bytes: toMusicXml(sheet).bytes, count: 1500 },
    { name: "a.mxl", bytes: toMxl(sheet).bytes, count: 2000 },
    { name: "a.mid", bytes: toMidi(sheet).bytes, count: 3500 },
  ];
});

/** Runs `body` on every mutation; collects what is no PulgarError, with the seed that made it. */
async function bruise(
  name: string,
  bytes: Uint8Array,
  count: number,
  body: (bytes: Uint8Array) => unknown,
): Promise<string[]> {
  const bad: string[] = [];
  for (let k = 0; k < count * TIMES; k++) {
    const mutated = mutate(bytes, chance(k + 1));
    const begin = process.cpuUsage(); // processor time: other programs on the machine do not count
    try {
      await body(mutated);
    } catch (e) {
      if (!(e instanceof PulgarError))
        bad.push(`${name}, seed ${k + 1}: ${e instanceof Error ? e.stack?.slice(0, 300) : String(e)}`);
    }
    const { user, system } = process.cpuUsage(begin);
    const ms = (user + system) / 1000;
    if (ms > 5000) bad.push(`${name}, seed ${k + 1}: ${ms.toFixed(0)} ms`);
  }
  return bad;
}

test("fuzz: mutated sheets of every kind are read or refused, never anything else", async () => {
  expect(seeds.length).toBe(6);
  for (const { name, bytes, count } of seeds)
    expect(await bruise(name, bytes, count, (b) => readSheet(b, name)), name).toEqual([]);
}, 240_000);

test("fuzz: mutated heads of sound files are named or unknown", async () => {
  for (const name of ["mixolydian-over-a.wav", "ladder-and-lamp.ogg", "low-tide.mp4"]) {
    const head = readFileSync(join(ROOT, "samples", name)).subarray(0, 4096);
    expect(await bruise(name, head, 500, sniffContainer)).toEqual([]);
  }
});

test("fuzz: mutated sound files are decoded or refused", async () => {
  for (const name of ["mixolydian-over-a.wav", "ladder-and-lamp.ogg", "low-tide.mp4", "half-open-door.m4a"]) {
    const bytes = readFileSync(join(ROOT, "samples", name));
    const path = join(folder, name);
    const bad = await bruise(name, bytes.subarray(0, 120_000), 40, (b) => {
      writeFileSync(path, b);
      return openTake(path, { isPartialOk: true });
    });
    expect(bad).toEqual([]);
  }
}, 240_000);

for (const [ending, codec] of [
  ["flac", "flac"],
  ["mp3", "libmp3lame"],
  ["aiff", "pcm_s16be"],
  ["caf", "pcm_s16be"],
  ["opus", "libopus"],
  ["mkv", "libvorbis"],
  ["aac", "aac"],
] as const)
  testNeeding(
    hasProgram("ffmpeg", ["-version"]),
    "ffmpeg",
    `fuzz: mutated ${ending} files are decoded or refused`,
    async () => {
      const path = join(folder, `made.${ending}`);
      const source = join(ROOT, "samples/mixolydian-over-a.wav");
      const argv = ["-v", "error", "-y", "-t", "2", "-i", source, "-strict", "-2", "-c:a", codec, path];
      expect(spawnSync("ffmpeg", argv).status).toBe(0);
      const bytes = readFileSync(path);
      const bad = await bruise(ending, bytes, 40, (b) => {
        writeFileSync(path, b);
        return openTake(path, { isPartialOk: true, rateHz: 22050 });
      });
      expect(bad).toEqual([]);
    },
  );

test("fuzz: mutated weights are refused before any runtime sees them", async () => {
  const models = join(ROOT, "models/listener");
  const weights = readFileSync(join(models, "listener.onnx"));
  const dir = join(folder, "models");
  mkdirSync(dir);
  cpSync(join(models, "card.json"), join(dir, "card.json"));
  let refused = 0;
  const bad = await bruise("listener.onnx", weights, 60, async (b) => {
    writeFileSync(join(dir, "listener.onnx"), b);
    if (Buffer.compare(weights, b) === 0) return;
    const e = await openListener({ folder: dir, threads: 0 }).then(
      () => undefined,
      (trouble: unknown) => trouble,
    );
    if (e instanceof PulgarError && e.code === "bad-model") refused++;
    else throw new Error(`taken, or ${String(e)}`);
  });
  expect(bad).toEqual([]);
  expect(refused).toBeGreaterThan(40); // the other mutations hit nothing, or cut and doubled back to the same bytes
});

test("fuzz: mutated cards are read or refused", async () => {
  const card = readFileSync(join(ROOT, "models/listener/card.json"));
  expect(
    await bruise("card.json", card, 1000, (b) => {
      let value: unknown;
      try {
        value = JSON.parse(new TextDecoder().decode(b));
      } catch {
        return; // not JSON: refused before the card is looked at
      }
      parseCard(value);
    }),
  ).toEqual([]);
});

test("fuzz: random command lines are understood or refused", async () => {
  const words = COMMANDS.flatMap((c) => [
    c.name,
    ...c.flags.flatMap((f) => [`--${f.name}`, `--${f.name}=${f.choices?.[0] ?? "7"}`]),
  ]);
  const odd = [
    "",
    "-",
    "--",
    "---",
    "-x",
    "--json",
    "=",
    "--=",
    "a.wav",
    "\u{1f3b8}",
    "--tempo=NaN",
    "__proto__",
    "--__proto__",
    "constructor",
  ];
  const bad: string[] = [];
  for (let k = 0; k < 4000 * TIMES; k++) {
    const random = chance(k + 77);
    const argv = Array.from({ length: Math.floor(random() * 6) }, () => {
      const list = random() < 0.7 ? words : odd;
      return list[Math.floor(random() * list.length)] ?? "";
    });
    try {
      parseCommandLine(argv);
    } catch (e) {
      if (!(e instanceof PulgarError)) bad.push(`${JSON.stringify(argv)}: ${String(e)}`);
    }
  }
  expect(bad).toEqual([]);
});

test("fuzz: random command lines end with 0, 1 or 2, two lines of words, and no stack", async () => {
  const files = ["a.wav", "b.tab.txt", "no\u0000thing", "c.json", "-".repeat(300), "../..", "\u{1f3b8}.mid"];
  const flags = COMMANDS.flatMap((c) => c.flags.map((f) => (f.value ? `--${f.name}=9` : `--${f.name}`)));
  const bad: string[] = [];
  for (let k = 0; k < 300 * TIMES; k++) {
    const random = chance(k + 991);
    const pick = (list: readonly string[]): string => list[Math.floor(random() * list.length)] ?? "";
    const row = COMMANDS[Math.floor(random() * COMMANDS.length)];
    const argv = [
      row?.name ?? "",
      ...Array.from({ length: row?.leastArgs ?? 0 }, () => join(folder, "absent", pick(files))),
      ...Array.from({ length: Math.floor(random() * 3) }, () => pick(flags)),
    ];
    const ran = await runCli(argv);
    if (![0, 1, 2].includes(ran.code) || /\n {4}at /.test(ran.err))
      bad.push(`${JSON.stringify(argv)}: ${ran.code} ${ran.err}`);
  }
  expect(bad).toEqual([]);
}, 120_000);

test("fuzz: all of this held no more memory than a long take does", () => {
  expect(process.resourceUsage().maxRSS / 1024).toBeLessThan(1500); // MB, vitest and its loader included
});

test("fuzz: nothing is left half written in the folder", () => {
  expect(readdirSync(folder).filter((n) => n.endsWith(".part"))).toEqual([]);
});
