// The listener within a page, where there is no Node: src/notes bundled for the browser and onnxruntime's wasm build, in Chromium. It must
// hear what the native runtime hears.

import { readFileSync } from "node:fs";
import { createServer } from "node:http";
import type { AddressInfo } from "node:net";
import { join } from "node:path";
import { build } from "vite";
import { expect } from "vitest";
import { openListener } from "../../cli/listener-runtime.js";
import { listen } from "../../src/notes/listen.js";
import { hasChromium, openBrowser } from "../cli/page/review-fixture.js";
import { ROOT, testNeeding } from "../helpers/needs.js";
import { hasBank } from "../helpers/takes/bank.js";
import { studyNamed } from "../helpers/takes/studies.js";
import { renderTake } from "../helpers/takes/take.js";

const SEC = 8;
const ORT = join(ROOT, "node_modules/onnxruntime-web/dist");

/** The bundle of page-ears.ts as one script. */
async function bundledEars(): Promise<string> {
  const made = await build({
    configFile: false,
    logLevel: "error",
    build: { write: false, lib: { entry: join(import.meta.dirname, "page-ears.ts"), formats: ["es"] } },
  });
  const [output] = Array.isArray(made) ? made : [made];
  if (!output || !("output" in output)) throw new Error("vite made no bundle");
  return output.output[0].code;
}

testNeeding(
  hasChromium && hasBank("steel"),
  "Chromium and the npm guitars",
  "in a page: the wasm listener hears in Chromium the notes that the native one hears",
  async () => {
    const { take } = await renderTake(studyNamed("short-errand"), { bank: "steel", seed: 7 });
    const samples = take.samples.slice(0, SEC * take.sampleRateHz);
    const listener = await openListener({ runtime: "native" });
    const native = await listen({ ...take, samples }, listener.run, { card: listener.card });
    await listener.close();

    const ears = await bundledEars();
    const files: Record<string, () => readonly [type: string, body: string | Uint8Array]> = {
      "/": () => ["text/html", "<!doctype html><title>ears</title>"],
      "/ears.mjs": () => ["text/javascript", ears],
      "/weights": () => [
        "application/octet-stream",
        readFileSync(join(ROOT, "models/listener/listener.onnx")),
      ],
      "/samples": () => ["application/octet-stream", new Uint8Array(samples.buffer)],
    };
    for (const name of ["ort.wasm.min.mjs", "ort-wasm-simd-threaded.mjs", "ort-wasm-simd-threaded.wasm"])
      files[`/${name}`] = () => [
        name.endsWith(".wasm") ? "application/wasm" : "text/javascript",
        readFileSync(join(ORT, name)),
      ];
    const server = createServer((request, response) => {
      const [type, body] = files[request.url ?? ""]?.() ?? ["text/plain", ""];
      response.writeHead(body.length > 0 ? 200 : 404, { "content-type": type }).end(body);
    });
    await new Promise<void>((done) => server.listen(0, "127.0.0.1", done));
    const browser = await openBrowser();
    try {
      const page = await browser.newPage();
      await page.goto(`http://127.0.0.1:${(server.address() as AddressInfo).port}/`);
      const heard = (await page.evaluate(
        `(async (card, sampleRateHz) => {
          const { listen, makeEars } = await import("/ears.mjs");
          const ort = await import("/ort.wasm.min.mjs");
          ort.env.wasm.numThreads = 1;
          const bytes = async (url) => (await fetch(url)).arrayBuffer();
          const session = await ort.InferenceSession.create(new Uint8Array(await bytes("/weights")));
          const net = async (features, frameCount) => {
            const tensor = new ort.Tensor("float32", features, [frameCount, card.frameLen]);
            const out = await session.run({ [session.inputNames[0]]: tensor });
            return { onset: out.onset.data, sounding: out.sounding.data, strings: out.strings.data };
          };
          const take = { samples: new Float32Array(await bytes("/samples")), sampleRateHz };
          const { notes } = await listen(take, makeEars(net, card), { card });
          return notes.map((n) => [n.midi, Math.round(n.onsetSec * 100)]);
        })(${JSON.stringify(listener.card)}, ${take.sampleRateHz})`,
      )) as [number, number][];
      expect(heard.length).toBeGreaterThan(12);
      expect(heard).toEqual(native.notes.map((n) => [n.midi, Math.round(n.onsetSec * 100)]));
    } finally {
      await browser.close();
      server.close();
    }
  },
);
