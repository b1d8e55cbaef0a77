/** Changes the sample rate with a windowed-sinc filter bank.
 * In: samples and two rates in Hz. Out: samples at the new rate, sample 0 at the same moment. Method: polyphase, one Kaiser-windowed
 * sinc a phase, cut off under the lower Nyquist (Smith, "Digital Audio Resampling", 2002). Cannot: change pitch or length by will. */

export const RESAMPLE_DEFAULTS = {
  zeroCrossings: 24, // each side; with beta 9 the stop band lies under −90 dB
  kaiserBeta: 9,
  rolloff: 0.92, // pass band up to this share of the lower Nyquist
  mostPhases: 1024, // odd rates are rounded to this many places between samples: error under −60 dB
} as const;

function gcd(a: number, b: number): number {
  return b === 0 ? a : gcd(b, a % b);
}

/** Modified Bessel function I0 by its series (Abramowitz & Stegun 9.6.12). */
function besselI0(x: number): number {
  let sum = 1;
  let term = 1;
  for (let k = 1; k < 40; k++) {
    term *= (x / (2 * k)) ** 2;
    sum += term;
  }
  return sum;
}

/** One row of taps a phase; row p is the filter for an output that lies p/phases of a sample after an input. */
function filterRows(
  phaseCount: number,
  step: number,
): { rows: Float64Array; tapCount: number; half: number } {
  const { zeroCrossings, kaiserBeta, rolloff } = RESAMPLE_DEFAULTS;
  const cutoff = rolloff * Math.min(1, 1 / step); // in units of the input's Nyquist
  const half = Math.ceil(zeroCrossings / cutoff);
  const tapCount = 2 * half;
  const rows = new Float64Array(phaseCount * tapCount);
  const norm = besselI0(kaiserBeta);
  for (let p = 0; p < phaseCount; p++) {
    let sum = 0;
    for (let k = 0; k < tapCount; k++) {
      const x = k - half + 1 - p / phaseCount; // input sample minus output place, in input samples
      const inside = 1 - (x / half) ** 2;
      const window = inside > 0 ? besselI0(kaiserBeta * Math.sqrt(inside)) / norm : 0;
      const arg = Math.PI * cutoff * x;
      const tap = (arg === 0 ? 1 : Math.sin(arg) / arg) * window;
      rows[p * tapCount + k] = tap;
      sum += tap;
    }
    for (let k = 0; k < tapCount; k++) rows[p * tapCount + k]! /= sum;
  }
  return { rows, tapCount, half };
}

/** @returns shape (ceil(n · to / from)) */
export function resample(samples: Float32Array, fromHz: number, toHz: number): Float32Array {
  if (fromHz === toHz) return samples;
  const divisor = gcd(Math.round(fromHz), Math.round(toHz));
  const exactPhases = Math.round(toHz) / divisor;
  const phaseCount = Math.min(exactPhases, RESAMPLE_DEFAULTS.mostPhases);
  const step = fromHz / toHz; // input samples to an output sample
  const { rows, tapCount, half } = filterRows(phaseCount, step);
  const out = new Float32Array(Math.ceil(samples.length / step));
  for (let i = 0; i < out.length; i++) {
    const place = i * step;
    let base = Math.floor(place + 1e-9);
    let phase = Math.round((place - base) * phaseCount);
    if (phase >= phaseCount) {
      phase = 0;
      base++;
    }
    const first = base - half + 1;
    const row = phase * tapCount;
    const from = Math.max(0, -first);
    const to = Math.min(tapCount, samples.length - first);
    let sum = 0;
    for (let k = from; k < to; k++) sum += rows[row + k]! * samples[first + k]!;
    out[i] = sum;
  }
  return out;
}

/** Keeps every `factor`-th sample of a filtered signal: out[m] = Σ taps[k] · x[m·factor + k − half]. `taps` has odd length. */
export function filterAndDecimate(samples: Float32Array, taps: Float64Array, factor: number): Float32Array {
  const half = (taps.length - 1) / 2;
  const out = new Float32Array(Math.floor((samples.length - 1) / factor) + 1);
  for (let m = 0; m < out.length; m++) {
    const first = m * factor - half;
    const from = Math.max(0, -first);
    const to = Math.min(taps.length, samples.length - first);
    let sum = 0;
    for (let k = from; k < to; k++) sum += taps[k]! * samples[first + k]!;
    out[m] = sum;
  }
  return out;
}
