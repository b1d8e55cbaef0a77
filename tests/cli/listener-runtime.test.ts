// The listener in threads. Reference: the same network in this very thread; the sums are the same to the last bit, whatever works on them.
import { cpSync, mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { openTake } from "../../cli/decoder.js";
import { openListener, runtimeNote } from "../../cli/listener-runtime.js";
import { FEATURES } from "../../src/notes/features.js";
import { listen } from "../../src/notes/listen.js";
import type { Listening } from "../../src/notes/played-note.js";
import { ROOT } from "../helpers/needs.js";
import { tempFolder } from "../helpers/run-cli.js";

const folder = tempFolder();
const models = join(ROOT, "models/listener");

async function heard(threads: number, runtime: "native" | "wasm" = "native"): Promise<Listening> {
  const { take } = await openTake(join(ROOT, "samples/mixolydian-over-a.wav"), {
    rateHz: FEATURES.sampleRateHz,
  });
  const listener = await openListener({ threads, runtime });
  return listen(take, listener.run, { card: listener.card }).finally(() => listener.close());
}

test("listener: one, two or three threads hear what this thread hears, bit for bit", async () => {
  const here = await heard(0);
  expect(here.notes.length).toBeGreaterThan(50);
  for (const threads of [1, 2, 3]) {
    const there = await heard(threads);
    expect(there.notes).toEqual(here.notes);
    expect(there.candidates).toEqual(here.candidates);
    expect(Buffer.compare(Buffer.from(there.evidence.onset), Buffer.from(here.evidence.onset))).toBe(0);
    expect(Buffer.compare(Buffer.from(there.evidence.sounding), Buffer.from(here.evidence.sounding))).toBe(0);
  }
}, 180_000);

test("listener: without a native runtime the other one hears the same notes, and what is lost is said", async () => {
  const [native, wasm] = [await heard(0), await heard(2, "wasm")];
  expect(wasm.notes.map((n) => [n.midi, n.onsetSec])).toEqual(native.notes.map((n) => [n.midi, n.onsetSec]));
  expect(runtimeNote("wasm")).toContain("five times as long");
  expect(runtimeNote("native")).toBe("");
}, 180_000);

for (const threads of [0, 2])
  test(`listener: weights that do not belong to the card, or are none, are refused (${threads} threads)`, async () => {
    const dir = join(folder, `damaged-${threads}`);
    mkdirSync(dir);
    for (const name of ["card.json", "listener.onnx"]) cpSync(join(models, name), join(dir, name));
    const bytes = readFileSync(join(dir, "listener.onnx"));
    bytes[1000] = (bytes[1000] ?? 0) ^ 1;
    writeFileSync(join(dir, "listener.onnx"), bytes);
    await expect(openListener({ folder: dir, threads })).rejects.toMatchObject({ code: "bad-model" });
    const { createHash } = await import("node:crypto");
    const junk = Buffer.alloc(5000, 7);
    writeFileSync(join(dir, "listener.onnx"), junk);
    const card = JSON.parse(readFileSync(join(dir, "card.json"), "utf8")) as Record<string, unknown>;
    card.sha256 = createHash("sha256").update(junk).digest("hex");
    writeFileSync(join(dir, "card.json"), JSON.stringify(card));
    await expect(openListener({ folder: dir, threads })).rejects.toMatchObject({ code: "no-runtime" });
  }, 120_000);
