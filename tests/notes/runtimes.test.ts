// The two runtimes of one model, onnxruntime's native and its wasm build, hold each other: same features, same logits. Tolerance 1e-3 of a
// logit (the sums run in another order; a step of the evidence map is 1/16), and so the same notes of a take.

import { readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { openListener } from "../../cli/listener-runtime.js";
import { openNet } from "../../cli/net.js";
import { FRAME_LEN, frameCountOf, levelGain, makeFeatures } from "../../src/notes/features.js";
import { listen } from "../../src/notes/listen.js";
import { ROOT, testNeeding } from "../helpers/needs.js";
import { hasBank } from "../helpers/takes/bank.js";
import { studyNamed } from "../helpers/takes/studies.js";
import { renderTake } from "../helpers/takes/take.js";
import { sine } from "../helpers/wav-bytes.js";

const LOGIT_TOLERANCE = 1e-3;

test("runtimes: native and wasm give the same logits within 0.001", async () => {
  const chord = [110, 164.8, 220, 277.2].map((hz) => sine(hz, 2, 22050, 0.1));
  const sound = Float32Array.from({ length: 2 * 22050 }, (_, i) => {
    const t = (i % 11025) / 22050; // struck every half second
    return chord.reduce((sum, x) => sum + (x[i] ?? 0), 0) * Math.exp(-4 * t);
  });
  const frameCount = frameCountOf(sound.length);
  const features = new Float32Array(frameCount * FRAME_LEN);
  makeFeatures(0, levelGain(sound))(sound)(0, frameCount, features);
  const weights = new Uint8Array(readFileSync(join(ROOT, "models/listener/listener.onnx")));
  const outputs = [];
  for (const runtime of ["native", "wasm"] as const) {
    const net = await openNet(runtime, weights);
    const out = await net.run(features.slice(), [frameCount, FRAME_LEN]);
    outputs.push({ ...out, strings: out.strings ?? new Float32Array(0) });
    await net.close();
  }
  const [native, wasm] = outputs;
  for (const name of ["onset", "sounding", "strings"] as const) {
    const a = native?.[name] ?? new Float32Array(0);
    const b = wasm?.[name] ?? new Float32Array(0);
    expect(a.length).toBe(frameCount * 53 * (name === "strings" ? 6 : 1));
    expect(b.length).toBe(a.length);
    let most = 0;
    for (let k = 0; k < a.length; k++) most = Math.max(most, Math.abs((a[k] as number) - (b[k] as number)));
    expect(most).toBeLessThan(LOGIT_TOLERANCE);
    expect(Math.max(...a) - Math.min(...a)).toBeGreaterThan(1); // it says something at all
  }
});

testNeeding(
  hasBank("steel"),
  "npm guitars",
  "runtimes: native and wasm hear the same notes of a take",
  async () => {
    const { take } = await renderTake(studyNamed("short-errand"), { bank: "steel", seed: 7 });
    const short = { ...take, samples: take.samples.slice(0, 12 * take.sampleRateHz) };
    const heard = [];
    for (const runtime of ["native", "wasm"] as const) {
      const listener = await openListener({ runtime });
      heard.push(await listen(short, listener.run, { card: listener.card }));
      await listener.close();
    }
    const [native, wasm] = heard.map((h) => h.notes.map((n) => [n.midi, Math.round(n.onsetSec * 100)]));
    expect(native?.length).toBeGreaterThan(20);
    expect(wasm).toEqual(native);
  },
);
