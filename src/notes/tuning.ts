/** How far the guitar is from A4 = 440 Hz.
 * In: sound at 22050 Hz. Out: cents, −50…50. Method: spectral peaks of frames spread over the take; their distances to the nearest
 * semitone averaged on a circle, then a weighted median around that mean. A peak's weight is its amplitude times its frequency, one over
 * the standard error of its cents (the least error of a tone's frequency goes as 1/amplitude, whatever the frequency: Rife & Boorstyn
 * 1974, IEEE Trans. IT-20). So what is loud counts, as it does to the ear: just after a pluck, before the pitch sinks by a cent or
 * three; and first partials of low notes, which a yielding bridge draws flat by up to ten, count little.
 * Cannot: tell a guitar 60 cents flat from one 40 cents sharp. */
import { mod } from "../base/numbers.js";
import { hannWindow, makePowerFft } from "../dsp/fft.js";

const TUNING_DEFAULTS = {
  frameLen: 8192, // 372 ms at 22050 Hz
  fftLen: 32768, // zero-padded: a bin is 0.67 Hz, 7 cents at 165 Hz before interpolation
  frameCount: 160,
  lowestHz: 110,
  highestHz: 1600, // above, partials of steel strings are stretched; 1000 to 2500 differ by 0.2 cents on the training guitars
  peaksPerFrame: 16,
  floorShare: 1e-4, // power of a peak against the frame's strongest
} as const;

type Peak = { cents: number; weight: number };

export function estimateTuning(samples: Float32Array, sampleRateHz: number): number {
  const peaks = peaksOf(samples, sampleRateHz);
  if (peaks.length < 8) return 0;
  let re = 0;
  let im = 0;
  for (const { cents, weight } of peaks) {
    re += weight * Math.cos((2 * Math.PI * cents) / 100);
    im += weight * Math.sin((2 * Math.PI * cents) / 100);
  }
  let centre = (Math.atan2(im, re) * 100) / (2 * Math.PI);
  for (const reach of [25, 12]) {
    const around = peaks.map(({ cents, weight }) => ({ cents: offCentre(cents, centre), weight }));
    centre += weightedMedian(around.filter(({ cents }) => Math.abs(cents) < reach));
  }
  return offCentre(centre, 0);
}

/** Where half of the weight lies below; 0 when there is none. */
function weightedMedian(peaks: readonly Peak[]): number {
  const byCents = [...peaks].sort((a, b) => a.cents - b.cents);
  const half = peaks.reduce((sum, { weight }) => sum + weight, 0) / 2;
  let below = 0;
  for (const { cents, weight } of byCents) {
    below += weight;
    if (below >= half) return cents;
  }
  return 0;
}

/** Distance around a circle of 100 cents, −50…50. */
const offCentre = (cents: number, centre: number): number => mod(cents - centre + 50, 100) - 50;

function peaksOf(samples: Float32Array, sampleRateHz: number): Peak[] {
  const { frameLen, fftLen, frameCount, lowestHz, highestHz } = TUNING_DEFAULTS;
  const fft = makePowerFft(fftLen);
  const window = hannWindow(frameLen);
  const frame = new Float64Array(fftLen);
  const power = new Float64Array(fftLen / 2 + 1);
  const lastStart = Math.max(0, samples.length - frameLen);
  const count = Math.min(frameCount, Math.max(1, Math.floor(lastStart / (frameLen / 4))));
  const lowBin = Math.floor((lowestHz * fftLen) / sampleRateHz);
  const highBin = Math.ceil((highestHz * fftLen) / sampleRateHz);
  const all: Peak[] = [];
  for (let k = 0; k < count; k++) {
    const startIdx = Math.floor((lastStart * k) / Math.max(1, count - 1));
    for (let i = 0; i < frameLen; i++) frame[i] = (samples[startIdx + i] ?? 0) * window[i]!;
    fft.power(frame, power);
    all.push(...framePeaks(power, lowBin, highBin, sampleRateHz / fftLen));
  }
  return all;
}

function framePeaks(power: Float64Array, lowBin: number, highBin: number, binHz: number): Peak[] {
  let strongest = 0;
  for (let b = lowBin; b <= highBin; b++) strongest = Math.max(strongest, power[b]!);
  if (strongest <= 1e-12) return [];
  const found: { bin: number; power: number }[] = [];
  const side = 8; // bins of the main lobe at this padding: lesser bumps inside it are no peaks
  for (let b = lowBin; b <= highBin; b++) {
    const p = power[b]!;
    if (p < strongest * TUNING_DEFAULTS.floorShare || p < power[b - 1]! || p < power[b + 1]!) continue;
    let isPeak = true;
    for (let d = 2; d <= side && isPeak; d++) isPeak = p > power[b - d]! && p > power[b + d]!;
    if (isPeak) found.push({ bin: b, power: p });
  }
  found.sort((a, b) => b.power - a.power || a.bin - b.bin);
  return found.slice(0, TUNING_DEFAULTS.peaksPerFrame).map(({ bin, power: p }) => {
    const [left, mid, right] = [
      Math.log(power[bin - 1]! + 1e-20),
      Math.log(p),
      Math.log(power[bin + 1]! + 1e-20),
    ];
    const off = (left - right) / (2 * (left - 2 * mid + right) || 1);
    const hz = (bin + off) * binHz;
    const midi = 69 + 12 * Math.log2(hz / 440);
    return { cents: offCentre(midi * 100, 0), weight: Math.sqrt(p) * hz };
  });
}
