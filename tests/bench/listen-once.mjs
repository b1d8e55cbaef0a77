// Listens to one recording with the program as built. Arguments: the build's folder, raw float samples at 22 050 Hz (mono), native or wasm.
// A process of its own and plain JavaScript, so that the peak is the listener's: the TypeScript loader would take 90 MB of three threads.
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { pathToFileURL } from "node:url";

const [built, path, runtime] = process.argv.slice(2);
const { openListener } = await import(pathToFileURL(join(built, "cli/listener-runtime.js")).href);
const { listen } = await import(pathToFileURL(join(built, "src/notes/listen.js")).href);
const bytes = readFileSync(path);
const samples = new Float32Array(bytes.buffer, bytes.byteOffset, bytes.byteLength >> 2);
const listener = await openListener({ runtime });
await listen({ samples, sampleRateHz: 22050 }, listener.run, { card: listener.card });
await listener.close();
