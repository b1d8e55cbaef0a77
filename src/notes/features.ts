/** What the network hears. The same definition stands in models/listener/features.py; tests compare the two on frozen vectors.
 *
 * In: sound at 22050 Hz. Out: frames of 2 × 264 bands. Frame k is centred on sample 256·k; band j lies at MIDI 36 + (j − 1)/3.
 * Channel 0: Hann windows of 8192 samples below 220 Hz, 4096 to 900 Hz, 2048 above (the long ones as windows of 1024 on sound
 * decimated 8 and 4 times); channel 1: 1024 throughout, for onsets. Each band: square root of the power under a triangle as wide as
 * a bin or a band; then log(1 + 2000·m)/6. Cannot: hear under 64 Hz or over 10 kHz. */
import { hannWindow, makePowerFft, type PowerFft } from "../dsp/fft.js";
import { filterAndDecimate } from "../dsp/resample.js";

export const FEATURES = {
  sampleRateHz: 22050,
  hopLen: 256,
  bandCount: 264,
  bandsPerOctave: 36,
  lowestBandMidi: 36 - 1 / 3,
  levelBlockLen: 8192,
  levelTarget: 0.1,
  levelGate: 10 ** (-45 / 20), // blocks this far under the loudest are silence
  levelShare: 0.9,
  compress: 2000,
} as const;

/** Values of a frame: both channels. */
export const FRAME_LEN = 2 * FEATURES.bandCount;

type Lane = { factor: number; windowLen: number; lowHz: number; highHz: number };
const LANES: readonly Lane[] = [
  { factor: 8, windowLen: 1024, lowHz: 0, highHz: 220 },
  { factor: 4, windowLen: 1024, lowHz: 220, highHz: 900 },
  { factor: 1, windowLen: 2048, lowHz: 900, highHz: 1e9 },
  { factor: 1, windowLen: 1024, lowHz: 0, highHz: 1e9 },
];
const DECIMATION: Readonly<Record<number, { half: number; cutoffHz: number }>> = {
  8: { half: 40, cutoffHz: 1300 },
  4: { half: 24, cutoffHz: 2500 },
};

/** Centre of each band in Hz, shape (264). @param cents how far the guitar is from 440 Hz */
export function bandHz(cents: number): Float64Array {
  const out = new Float64Array(FEATURES.bandCount);
  for (let j = 0; j < out.length; j++) {
    const midi = FEATURES.lowestBandMidi + (j * 12) / FEATURES.bandsPerOctave;
    out[j] = 440 * 2 ** ((midi - 69 + cents / 100) / 12);
  }
  return out;
}

/** Windowed sinc (Blackman), odd length, sum 1. */
function decimationTaps(factor: number): Float64Array {
  const { half, cutoffHz } = DECIMATION[factor] ?? { half: 0, cutoffHz: 0 };
  const taps = new Float64Array(2 * half + 1);
  let sum = 0;
  for (let k = 0; k < taps.length; k++) {
    const n = k - half;
    const x = ((2 * cutoffHz) / FEATURES.sampleRateHz) * n;
    const sinc = x === 0 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x);
    const window =
      0.42 + 0.5 * Math.cos((Math.PI * n) / (half + 1)) + 0.08 * Math.cos((2 * Math.PI * n) / (half + 1));
    taps[k] = sinc * window;
    sum += taps[k]!;
  }
  return taps.map((t) => t / sum);
}

/** Rows of a lane's bands as runs of weights over bins. */
type BandRow = { bandIdx: number; firstBin: number; weights: Float64Array };

function bandRows(lane: Lane, cents: number): BandRow[] {
  const stepHz = FEATURES.sampleRateHz / lane.factor / lane.windowLen;
  const base = bandHz(0); // which window serves a band does not depend on the tuning
  const centres = bandHz(cents);
  const rows: BandRow[] = [];
  for (let j = 0; j < FEATURES.bandCount; j++) {
    if (base[j]! < lane.lowHz || base[j]! >= lane.highHz) continue;
    const centre = centres[j]! / stepHz;
    const width = Math.max(1, centre * (2 ** (1 / FEATURES.bandsPerOctave) - 1));
    const firstBin = Math.max(0, Math.ceil(centre - width));
    const lastBin = Math.min(lane.windowLen / 2, Math.floor(centre + width));
    const weights = new Float64Array(Math.max(0, lastBin - firstBin + 1));
    for (let k = 0; k < weights.length; k++)
      weights[k] = Math.max(0, 1 - Math.abs(firstBin + k - centre) / width);
    rows.push({ bandIdx: j, firstBin, weights });
  }
  return rows;
}

/** Gain that brings the 90th percentile of the block levels to 0.1; silent blocks do not count. */
export function levelGain(samples: Float32Array): number {
  const { levelBlockLen, levelGate, levelShare, levelTarget } = FEATURES;
  const blockLen = Math.min(levelBlockLen, samples.length);
  const blockCount = Math.floor(samples.length / blockLen);
  const levels = new Float64Array(blockCount);
  for (let b = 0; b < blockCount; b++) {
    let sum = 0;
    for (let i = b * blockLen; i < (b + 1) * blockLen; i++) sum += samples[i]! * samples[i]!;
    levels[b] = Math.sqrt(sum / blockLen);
  }
  levels.sort();
  const loudest = levels[blockCount - 1]!;
  let silent = 0;
  while (silent < blockCount && levels[silent]! < loudest * levelGate) silent++;
  const at = silent + Math.floor((blockCount - silent - 1) * levelShare);
  return levelTarget / Math.max(levels[at]!, 1e-7);
}

/** A maker of frames for one take: decimated copies are made once, frames on demand.
 * @property fill writes frames `startFrame`…`startFrame + count` into `out`, shape (count, 528) row-major */
export type FeatureMaker = {
  frameCount: number;
  fill: (startFrame: number, count: number, out: Float32Array) => void;
};

/** @param samples at 22050 Hz, not yet levelled @param cents tuning of the guitar, the bands move with it */
export function makeFeatures(samples: Float32Array, cents: number): FeatureMaker {
  const gain = levelGain(samples);
  const decimated = new Map<number, Float32Array>([[1, samples]]);
  for (const factor of [8, 4])
    decimated.set(factor, filterAndDecimate(samples, decimationTaps(factor), factor));
  const engines = new Map<number, PowerFft>([1024, 2048].map((len) => [len, makePowerFft(len)]));
  const lanes = LANES.map((lane, k) => {
    const hann = hannWindow(lane.windowLen);
    const scale = (2 * gain) / hann.reduce((a, b) => a + b, 0);
    return {
      ...lane,
      source: decimated.get(lane.factor)!,
      window: hann.map((w) => w * scale),
      engine: engines.get(lane.windowLen)!,
      rows: bandRows(lane, cents),
      outIdx: k === LANES.length - 1 ? FEATURES.bandCount : 0,
      frame: new Float64Array(lane.windowLen),
      power: new Float64Array(lane.windowLen / 2 + 1),
    };
  });
  return {
    frameCount: Math.floor(samples.length / FEATURES.hopLen) + 1,
    fill(startFrame, count, out) {
      for (let f = 0; f < count; f++) {
        for (const lane of lanes) {
          const firstIdx = ((startFrame + f) * FEATURES.hopLen) / lane.factor - lane.windowLen / 2;
          const { frame, source, window } = lane;
          for (let i = 0; i < frame.length; i++) {
            const at = firstIdx + i;
            frame[i] = at >= 0 && at < source.length ? source[at]! * window[i]! : 0;
          }
          lane.engine.power(frame, lane.power);
          for (const row of lane.rows) {
            let sum = 0;
            for (let k = 0; k < row.weights.length; k++)
              sum += row.weights[k]! * lane.power[row.firstBin + k]!;
            out[f * FRAME_LEN + lane.outIdx + row.bandIdx] =
              Math.log1p(FEATURES.compress * Math.sqrt(sum)) / 6;
          }
        }
      }
    },
  };
}
