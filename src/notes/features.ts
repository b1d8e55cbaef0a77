/** What the network hears. The same definition stands in models/listener/features.py; tests compare the two on frozen vectors.
 *
 * In: sound at 22050 Hz. Out: frames of 2 × 264 bands. Frame k is centred on sample 256·k; band j lies at MIDI 36 + (j − 1)/3.
 * Channel 0: Hann windows of 8192 samples below 220 Hz, 4096 to 900 Hz, 2048 above (the long ones as windows of 1024 on sound
 * decimated 8 and 4 times); channel 1: 1024 throughout, for onsets. Each band: square root of the power under a triangle as wide as
 * a bin or a band; then log(1 + 2000·m)/6. Cannot: hear under 64 Hz or over 10 kHz. */
import { hannWindow, makePowerFft } from "../dsp/fft.js";
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

type Lane = { factor: 1 | 4 | 8; windowLen: 1024 | 2048; lowHz: number; highHz: number };
const LANES: readonly Lane[] = [
  { factor: 8, windowLen: 1024, lowHz: 0, highHz: 220 },
  { factor: 4, windowLen: 1024, lowHz: 220, highHz: 900 },
  { factor: 1, windowLen: 2048, lowHz: 900, highHz: 1e9 },
  { factor: 1, windowLen: 1024, lowHz: 0, highHz: 1e9 },
];
const DECIMATION = { 8: { half: 40, cutoffHz: 1300 }, 4: { half: 24, cutoffHz: 2500 } } as const;

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
function decimationTaps(factor: 4 | 8): Float64Array {
  const { half, cutoffHz } = DECIMATION[factor];
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

/** A lane's bands as runs of weights over bins, laid end to end: band `bandIdx[r]` weighs bins from `firstBin[r]` by
 * `weights[starts[r]]` up to `weights[starts[r + 1] − 1]`. */
type BandRows = {
  bandIdx: Int32Array;
  firstBin: Int32Array;
  starts: Int32Array;
  weights: Float64Array;
  lowestBin: number; // of all rows
  highestBin: number;
};

function bandRows(lane: Lane, cents: number): BandRows {
  const stepHz = FEATURES.sampleRateHz / lane.factor / lane.windowLen;
  const base = bandHz(0); // which window serves a band does not depend on the tuning
  const centres = bandHz(cents);
  const bandIdx: number[] = [];
  const firstBins: number[] = [];
  const starts = [0];
  const weights: number[] = [];
  let highestBin = 0;
  for (let j = 0; j < FEATURES.bandCount; j++) {
    if (base[j]! < lane.lowHz || base[j]! >= lane.highHz) continue;
    const centre = centres[j]! / stepHz;
    const width = Math.max(1, centre * (2 ** (1 / FEATURES.bandsPerOctave) - 1));
    const firstBin = Math.max(0, Math.ceil(centre - width));
    const lastBin = Math.min(lane.windowLen / 2, Math.floor(centre + width));
    for (let bin = firstBin; bin <= lastBin; bin++)
      weights.push(Math.max(0, 1 - Math.abs(bin - centre) / width));
    highestBin = Math.max(highestBin, lastBin);
    bandIdx.push(j);
    firstBins.push(firstBin);
    starts.push(weights.length);
  }
  return {
    bandIdx: Int32Array.from(bandIdx),
    firstBin: Int32Array.from(firstBins),
    starts: Int32Array.from(starts),
    weights: Float64Array.from(weights),
    lowestBin: firstBins[0] ?? 0,
    highestBin,
  };
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

/** Frames of a take of `sampleLen` samples. */
export const frameCountOf = (sampleLen: number): number => Math.floor(sampleLen / FEATURES.hopLen) + 1;

/** Samples to each side of a frame's centre that the frame is made of: half the longest window, and what decimation reaches. A multiple
 * of the decimation factors. */
export const FRAME_REACH_LEN = 4096 + 64;

/** Takes up a stretch of sound. What comes back writes `frameCount` frames of it into `out`, shape (frameCount, 528) row-major; the first is
 * centred on sample `centreIdx` (a multiple of 8), the next 256 further on. Beyond its ends there is silence. */
export type OpenSound = (
  sound: Float32Array,
) => (centreIdx: number, frameCount: number, out: Float32Array) => void;

/** @param cents tuning of the guitar, the bands move with it @param gain of the whole take, as `levelGain` finds it */
export function makeFeatures(cents: number, gain: number): OpenSound {
  const fft = { 1024: makePowerFft(1024), 2048: makePowerFft(2048) };
  const lanes = LANES.map((lane, k) => {
    const hann = hannWindow(lane.windowLen);
    const scale = (2 * gain) / hann.reduce((a, b) => a + b, 0);
    return {
      ...lane,
      window: hann.map((w) => w * scale),
      fft: fft[lane.windowLen],
      rows: bandRows(lane, cents),
      outIdx: k === LANES.length - 1 ? FEATURES.bandCount : 0,
      frame: new Float64Array(lane.windowLen),
      power: new Float64Array(lane.windowLen / 2 + 1),
    };
  });
  const tapsOf = { 8: decimationTaps(8), 4: decimationTaps(4) };
  return (sound) => {
    const sources = {
      8: filterAndDecimate(sound, tapsOf[8], 8),
      4: filterAndDecimate(sound, tapsOf[4], 4),
      1: sound,
    };
    return (centreIdx, frameCount, out) => {
      for (const { factor, windowLen, window, fft, rows, outIdx, frame, power } of lanes) {
        const firstIdx = centreIdx / factor - windowLen / 2;
        for (let f = 0; f < frameCount; f++) {
          cutFrame(sources[factor], firstIdx + (f * FEATURES.hopLen) / factor, window, frame);
          fft.power(frame, power, rows.lowestBin, rows.highestBin);
          writeBands(rows, power, out, f * FRAME_LEN + outIdx);
        }
      }
    };
  };
}

/** One window of sound; silence beyond its ends. */
function cutFrame(source: Float32Array, firstIdx: number, window: Float64Array, frame: Float64Array): void {
  const from = Math.max(0, -firstIdx);
  const to = Math.min(window.length, source.length - firstIdx);
  if (from > 0 || to < window.length) frame.fill(0);
  for (let i = from; i < to; i++) frame[i] = source[firstIdx + i]! * window[i]!;
}

function writeBands(rows: BandRows, power: Float64Array, out: Float32Array, outIdx: number): void {
  const { bandIdx, firstBin, starts, weights } = rows;
  let at = 0;
  for (let r = 0; r < bandIdx.length; r++) {
    const end = starts[r + 1]!;
    let sum = 0;
    for (let bin = firstBin[r]!; at < end; at++, bin++) sum += weights[at]! * power[bin]!;
    out[outIdx + bandIdx[r]!] = Math.log(1 + FEATURES.compress * Math.sqrt(sum)) / 6;
  }
}
