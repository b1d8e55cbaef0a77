/** essentia.js as one voice on the key of a recording: plain major or minor. */
import type { EssentiaVote } from "../src/harmony/track.js";
import { startThread } from "./thread.js";

const ESSENTIA_DEFAULTS = {
  longestSec: 150, // the middle of a longer recording is enough for one vote, and memory stays small
  timeoutSec: 60,
} as const;

/** Asks essentia's KeyExtractor in a thread that ends. @param samples shape (n), −1…1
 * @returns undefined when essentia cannot answer: its voice is only one of several, and the key is found without it */
export async function askEssentia(
  samples: Float32Array,
  sampleRateHz: number,
): Promise<EssentiaVote | undefined> {
  const longest = Math.round(ESSENTIA_DEFAULTS.longestSec * sampleRateHz);
  const from = Math.max(0, Math.floor((samples.length - longest) / 2));
  const part = samples.slice(from, from + longest);
  const options = {
    workerData: { samples: part, sampleRateHz },
    transferList: [part.buffer],
    stdout: true,
    stderr: true,
  };
  const worker = startThread(new URL("./essentia-worker.js", import.meta.url), options);
  const answer = await new Promise<unknown>((resolve) => {
    const timer = setTimeout(() => resolve(undefined), ESSENTIA_DEFAULTS.timeoutSec * 1000);
    const end = (value: unknown): void => {
      clearTimeout(timer);
      resolve(value);
    };
    worker.once("message", end);
    worker.once("error", () => end(undefined));
    worker.once("exit", () => end(undefined));
  });
  await worker.terminate();
  return parseVote(answer);
}

/** A checked vote; undefined for whatever else the thread may have said. */
export function parseVote(answer: unknown): EssentiaVote | undefined {
  if (typeof answer !== "object" || answer === null) return undefined;
  const { key, scale, strength } = answer as Record<string, unknown>;
  if (typeof key !== "string" || (scale !== "major" && scale !== "minor") || typeof strength !== "number")
    return undefined;
  return { key, scale, strength: Math.max(0, Math.min(1, strength)) };
}
