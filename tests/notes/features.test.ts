// Features against frozen vectors of the training code (models/listener/vectors.py, torch 1.13, float32), tolerance 2e-5.
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import {
  bandHz,
  FEATURES,
  FRAME_LEN,
  FRAME_REACH_LEN,
  frameCountOf,
  levelGain,
  makeFeatures,
} from "../../src/notes/features.js";
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
    expect(frameCountOf(samples.length)).toBe(frozen.frameCount);
    const out = new Float32Array(FRAME_LEN);
    makeFeatures(cents, levelGain(samples))(samples)(frame * FEATURES.hopLen, 1, out);
    const want = new Float32Array(bytes(values));
    expect(want.length).toBe(FRAME_LEN);
    expect(Math.max(...want.map((w, j) => Math.abs(w - (out[j] ?? 9))))).toBeLessThan(2e-5);
  });

test("features: a band's centre is where equal temperament puts it (ISO 16)", () => {
  expect(bandHz(0)[3 * (69 - 36) + 1]).toBeCloseTo(440, 9);
  expect(bandHz(100)[3 * (69 - 36) + 1]).toBeCloseTo(466.1637615, 6); // A#4
});

test("features: a frame of a cut stretch is that of the whole sound, bit for bit", () => {
  const sound = Float32Array.from(sine(196, 2, 22050, 0.3));
  const open = makeFeatures(0, 1);
  const frameCount = frameCountOf(sound.length);
  const together = new Float32Array(frameCount * FRAME_LEN);
  open(sound)(0, frameCount, together);
  for (const frame of [0, 1, 50, frameCount - 1]) {
    const from = Math.max(0, frame * FEATURES.hopLen - FRAME_REACH_LEN);
    const stretch = sound.subarray(from, frame * FEATURES.hopLen + FRAME_REACH_LEN);
    const alone = new Float32Array(FRAME_LEN);
    open(stretch)(frame * FEATURES.hopLen - from, 1, alone);
    expect([...alone]).toEqual([...together.subarray(frame * FRAME_LEN, (frame + 1) * FRAME_LEN)]);
  }
});
