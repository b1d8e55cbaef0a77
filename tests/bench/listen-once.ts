// Listens to one recording and tells its seconds and peak memory as JSON. Argument: raw float samples at 22 050 Hz, mono.
// A process of its own, so that the peak is the listener's (with Node and the TypeScript loader in each thread).
import { readFileSync } from "node:fs";
import { openListener } from "../../cli/listener-runtime.js";
import { FEATURES } from "../../src/notes/features.js";
import { listen } from "../../src/notes/listen.js";
import { peakMb } from "./peak-mb.js";

const [path, runtime] = process.argv.slice(2);
if (path === undefined || (runtime !== "native" && runtime !== "wasm"))
  throw new Error("want: SAMPLES native|wasm");
const bytes = readFileSync(path);
const samples = new Float32Array(bytes.buffer, bytes.byteOffset, bytes.byteLength >> 2);
const listener = await openListener({ runtime });
const started = performance.now();
await listen({ samples, sampleRateHz: FEATURES.sampleRateHz }, listener.run, { card: listener.card });
const seconds = (performance.now() - started) / 1000;
await listener.close();
process.stdout.write(`${JSON.stringify({ seconds, peakMb: peakMb() })}\n`);
