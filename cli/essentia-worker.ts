/** Runs essentia.js on one recording in a thread of its own, answers once and ends: its heap never shrinks and it installs handlers
 * for uncaught errors that would change the whole process. In: workerData. Out: one message. */
import { parentPort, workerData } from "node:worker_threads";
import essentiaJs from "essentia.js";

type Question = { samples: Float32Array; sampleRateHz: number };

const { samples, sampleRateHz } = workerData as Question;
const essentia = new essentiaJs.Essentia(essentiaJs.EssentiaWASM);
const audio = essentia.arrayToVector(samples);
try {
  // Defaults of KeyExtractor in their order, but for the sample rate: averageDetuningCorrection, frameSize, hopSize, hpcpSize,
  // maxFrequency, maximumSpectralPeaks, minFrequency, pcpThreshold, profileType, sampleRate.
  const { key, scale, strength } = essentia.KeyExtractor(
    audio,
    true,
    4096,
    4096,
    12,
    3500,
    60,
    25,
    0.2,
    "bgate",
    sampleRateHz,
  );
  parentPort?.postMessage({ key, scale, strength });
} finally {
  audio.delete();
}
