import { spawnSync } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { Worker } from "node:worker_threads";
import type { Take } from "../../src/audio/take.js";
import { median } from "../../src/base/numbers.js";
import { resample } from "../../src/dsp/resample.js";
import { hasProgram } from "../helpers/needs.js";
import { wavBytes } from "../helpers/takes/wave.js";

const TIMEOUT_MS = 120_000;

/** Asks essentia's RhythmExtractor2013 in one thread for all takes. */
export class EssentiaRhythm {
  readonly #worker: Worker;

  constructor() {
    const url = new URL("./rhythm-worker.ts", import.meta.url).href;
    const code = `import("tsx/esm/api").then(({ register }) => { register(); return import(${JSON.stringify(url)}); });`;
    this.#worker = new Worker(code, { eval: true, stdout: true, stderr: true });
  }

  /** @returns beats a minute, undefined when it does not answer */
  tempo(take: Take): Promise<number | undefined> {
    const samples = resample(take.samples, take.sampleRateHz, 44100);
    return new Promise((done) => {
      const timer = setTimeout(() => done(undefined), TIMEOUT_MS);
      this.#worker.once("message", (bpm: number) => {
        clearTimeout(timer);
        done(bpm);
      });
      this.#worker.once("error", () => done(undefined));
      this.#worker.postMessage(samples);
    });
  }

  close(): Promise<number> {
    return this.#worker.terminate();
  }
}

export const hasAubio = (): boolean => hasProgram("aubio", ["--version"]);

/** aubio's tempo: the median distance of the beats that it prints. @returns undefined without aubio or with too few beats */
export function aubioTempo(take: Take): number | undefined {
  if (!hasAubio()) return undefined;
  const folder = mkdtempSync(join(tmpdir(), "pulgar-tempo-"));
  try {
    const file = join(folder, "take.wav");
    writeFileSync(file, wavBytes(take.samples, take.sampleRateHz));
    const run = spawnSync("aubio", ["beat", file], { encoding: "utf8" });
    const beats = run.stdout
      .split("\n")
      .map(Number)
      .filter((x) => x > 0);
    const length = median(beats.slice(1).map((b, k) => b - (beats[k] as number)));
    return length === undefined ? undefined : 60 / length;
  } finally {
    rmSync(folder, { recursive: true });
  }
}
