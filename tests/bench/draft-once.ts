// Drafts one take and tells seconds and peak memory as JSON. Arguments: raw float samples, sample rate in Hz, options as JSON.
// A process of its own, so that the peak is the pipeline's (with Node and the TypeScript loader, about 90 MB by themselves).
import { readFileSync } from "node:fs";
import { type DraftOptions, loadDraft } from "./draft.js";
import { peakMb } from "./peak-mb.js";

const [path, rate, options] = process.argv.slice(2);
if (path === undefined || rate === undefined || options === undefined)
  throw new Error("want: SAMPLES RATE OPTIONS");
const started = performance.now();
const bytes = readFileSync(path);
const samples = new Float32Array(bytes.buffer, bytes.byteOffset, bytes.byteLength >> 2);
const draft = await loadDraft();
const { sheet } = await draft({ samples, sampleRateHz: Number(rate) }, JSON.parse(options) as DraftOptions);
const seconds = (performance.now() - started) / 1000;
process.stdout.write(`${JSON.stringify({ seconds, peakMb: peakMb(), notes: sheet.notes.length })}\n`);
