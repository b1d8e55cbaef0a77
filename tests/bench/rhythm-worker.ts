// essentia.js in a thread of its own, as in cli/essentia-worker.ts: its RhythmExtractor2013 (multifeature, Zapata, Davies & Gómez 2014)
// on samples at 44 100 Hz. In: messages of samples. Out: one message each, beats a minute.
import { parentPort } from "node:worker_threads";
import essentiaJs from "essentia.js";

type Rhythm = {
  RhythmExtractor2013(
    audio: unknown,
    maxTempo?: number,
    method?: string,
    minTempo?: number,
  ): { bpm: number; ticks: { delete(): void } };
};

const essentia = new essentiaJs.Essentia(essentiaJs.EssentiaWASM);
parentPort?.on("message", (samples: Float32Array) => {
  const audio = essentia.arrayToVector(samples);
  const { bpm } = (essentia as unknown as Rhythm).RhythmExtractor2013(audio, 208, "multifeature", 40);
  audio.delete();
  parentPort?.postMessage(bpm);
});
