// Features against frozen vectors of the training code (models/listener/vectors.py, torch 1.13, float32), tolerance 2e-5.
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { bandHz, FRAME_LEN, levelGain, makeFeatures } from "../../src/notes/features.js";
import { ROOT } from "../helpers/needs.js";
import { sine } from "../helpers/wav-bytes.js";

type Frozen = {
  gain: number;
  frameCount: number;
  samples: string;
  cases: { cents: number; frame: number; values: string }[];
};
const frozen = JSON.parse(
  readFileSync(join(ROOT, "tests/fixtures/listener-features.json"), "utf8"),
) as Frozen;
const bytes = (text: string): ArrayBuffer => new Uint8Array(Buffer.from(text, "base64")).buffer;
const samples = Float32Array.from(new Int16Array(bytes(frozen.samples)), (x) => x / 32768);

test("features: there are frozen cases in both tunings", () => {
  expect(new Set(frozen.cases.map((c) => c.cents)).size).toBe(2);
  expect(frozen.cases.length).toBeGreaterThan(4);
});

test("features: the level gain is the training's", () => {
  expect(Math.abs(levelGain(samples) / frozen.gain - 1)).toBeLessThan(1e-5);
});

for (const { cents, frame, values } of frozen.cases)
  test(`features: frame ${frame} at ${cents} cents is the training's`, () => {
    const maker = makeFeatures(samples, cents);
    expect(maker.frameCount).toBe(frozen.frameCount);
    const out = new Float32Array(FRAME_LEN);
    maker.fill(frame, 1, out);
    const want = new Float32Array(bytes(values));
    expect(want.length).toBe(FRAME_LEN);
    expect(Math.max(...want.map((w, j) => Math.abs(w - (out[j] ?? 9))))).toBeLessThan(2e-5);
  });

test("features: a band's centre is where equal temperament puts it (ISO 16)", () => {
  expect(bandHz(0)[3 * (69 - 36) + 1]).toBeCloseTo(440, 9);
  expect(bandHz(100)[3 * (69 - 36) + 1]).toBeCloseTo(466.1637615, 6); // A#4
});

test("features: frames made one by one equal frames made together", () => {
  const maker = makeFeatures(Float32Array.from(sine(196, 1, 22050, 0.3)), 0);
  const together = new Float32Array(maker.frameCount * FRAME_LEN);
  maker.fill(0, maker.frameCount, together);
  const alone = new Float32Array(FRAME_LEN);
  maker.fill(50, 1, alone);
  expect([...alone]).toEqual([...together.subarray(50 * FRAME_LEN, 51 * FRAME_LEN)]);
});
