/** Changes the sample rate with a windowed-sinc filter bank.
 * In: samples and two rates in Hz. Out: samples at the new rate, sample 0 at the same moment. Method: polyphase, one Kaiser-windowed
 * sinc a phase, cut off under the lower Nyquist (Smith, "Digital Audio Resampling", 2002). Cannot: change pitch or length by will. */

const RESAMPLE_DEFAULTS = {
  zeroCrossings: 24, // each side; with beta 9 the stop band lies under −90 dB
  kaiserBeta: 9,
  rolloff: 0.92, // pass band up to this share of the lower Nyquist
  mostPhases: 1024, // odd rates are rounded to this many places between samples: error under −60 dB
} as const;

const PIECE_LEN = 1 << 16; // samples that a whole is cut into: the resampler's own copy stays small

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

/** One row of taps a phase; row p is the filter for an output that lies p/phases of a sample after an input. Rows are padded with
 * zeros to a multiple of four, as the inner loop wants them. */
function filterRows(
  phaseCount: number,
  step: number,
): { rows: Float64Array; tapCount: number; half: number } {
  const { zeroCrossings, kaiserBeta, rolloff } = RESAMPLE_DEFAULTS;
  const cutoff = rolloff * Math.min(1, 1 / step); // in units of the input's Nyquist
  const half = Math.ceil(zeroCrossings / cutoff);
  const tapCount = 4 * Math.ceil(half / 2);
  const rows = new Float64Array(phaseCount * tapCount);
  const norm = besselI0(kaiserBeta);
  for (let p = 0; p < phaseCount; p++) {
    let sum = 0;
    for (let k = 0; k < 2 * half; k++) {
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

/** A resampler that is fed piece by piece and keeps only what its filter still reaches: the same samples come out however the input is cut.
 * @property push the outputs that this piece completes @property end the rest; nothing may be pushed after it */
export type Resampler = { push: (samples: Float32Array) => Float32Array; end: () => Float32Array };

/** @param fromHz rate of what is pushed @param toHz rate of what comes out, not the same */
export function makeResampler(fromHz: number, toHz: number): Resampler {
  const divisor = gcd(Math.round(fromHz), Math.round(toHz));
  const phaseCount = Math.min(Math.round(toHz) / divisor, RESAMPLE_DEFAULTS.mostPhases);
  const step = fromHz / toHz; // input samples to an output sample
  const { rows, tapCount, half } = filterRows(phaseCount, step);
  const atOnce = phaseCount === 1 ? 4 : 1; // where all outputs share one row, four are summed side by side: three times as fast
  let held = new Float64Array(4 * tapCount + PIECE_LEN); // grows with the largest piece
  let heldLen = half - 1; // silence before the first sample
  let heldIdx = 1 - half; // input sample that held[0] is
  let totalLen = 0;
  let outIdx = 0;

  /** Outputs up to `endIdx` whose taps all lie in `held`; what the next one needs is kept. */
  function produce(endIdx: number): Float32Array {
    const out = new Float32Array(Math.max(0, endIdx - outIdx) + atOnce);
    let count = 0;
    let at = 0;
    while (outIdx + count < endIdx) {
      const place = (outIdx + count) * step;
      let base = Math.floor(place + 1e-9);
      let phase = Math.round((place - base) * phaseCount);
      if (phase >= phaseCount) {
        phase = 0;
        base++;
      }
      at = base - half + 1 - heldIdx;
      if (at + tapCount + (atOnce - 1) * step > heldLen) break;
      if (atOnce === 4) fourOutputs(rows, held, at, step, out, count);
      else out[count] = oneOutput(rows, phase * tapCount, tapCount, held, at);
      count += atOnce;
    }
    outIdx += count;
    const done = Math.min(at, heldLen);
    held.copyWithin(0, done, heldLen);
    heldLen -= done;
    heldIdx += done;
    return out.subarray(0, count);
  }

  const append = (samples: Float32Array): void => {
    if (heldLen + samples.length > held.length) {
      const larger = new Float64Array(heldLen + samples.length);
      larger.set(held.subarray(0, heldLen));
      held = larger;
    }
    held.set(samples, heldLen);
    heldLen += samples.length;
  };
  return {
    push(samples) {
      append(samples);
      totalLen += samples.length;
      return produce(Math.ceil(totalLen / step));
    },
    end() {
      const endIdx = Math.ceil(totalLen / step);
      const left = endIdx - outIdx;
      append(new Float32Array(tapCount + Math.ceil(atOnce * step))); // silence after the last sample
      return produce(endIdx).subarray(0, Math.max(0, left));
    },
  };
}

/** Σ row[k] · x[at + k], in four sums side by side: one sum would wait for itself at every step. */
function oneOutput(rows: Float64Array, row: number, tapCount: number, x: Float64Array, at: number): number {
  let a = 0;
  let b = 0;
  let c = 0;
  let d = 0;
  for (let k = 0; k < tapCount; k += 4) {
    a += rows[row + k]! * x[at + k]!;
    b += rows[row + k + 1]! * x[at + k + 1]!;
    c += rows[row + k + 2]! * x[at + k + 2]!;
    d += rows[row + k + 3]! * x[at + k + 3]!;
  }
  return a + b + (c + d);
}

/** Four outputs, a whole `step` of inputs apart, by one row of taps. */
function fourOutputs(
  row: Float64Array,
  x: Float64Array,
  at: number,
  step: number,
  out: Float32Array,
  outIdx: number,
): void {
  let a = 0;
  let b = 0;
  let c = 0;
  let d = 0;
  for (let k = 0, j = at; k < row.length; k++, j++) {
    const tap = row[k]!;
    a += tap * x[j]!;
    b += tap * x[j + step]!;
    c += tap * x[j + 2 * step]!;
    d += tap * x[j + 3 * step]!;
  }
  out[outIdx] = a;
  out[outIdx + 1] = b;
  out[outIdx + 2] = c;
  out[outIdx + 3] = d;
}

/** @returns shape (ceil(n · to / from)) */
export function resample(samples: Float32Array, fromHz: number, toHz: number): Float32Array {
  if (fromHz === toHz) return samples;
  const resampler = makeResampler(fromHz, toHz);
  const out = new Float32Array(Math.ceil(samples.length / (fromHz / toHz)));
  let outIdx = 0;
  const keep = (part: Float32Array): void => {
    out.set(part, outIdx);
    outIdx += part.length;
  };
  for (let idx = 0; idx < samples.length; idx += PIECE_LEN)
    keep(resampler.push(samples.subarray(idx, idx + PIECE_LEN)));
  keep(resampler.end());
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
    let a = 0; // four sums, as one would wait for itself at every step; unpacked from a list they took twice as long
    let b = 0;
    let c = 0;
    let d = 0;
    let k = from;
    for (; k + 3 < to; k += 4) {
      a += taps[k]! * samples[first + k]!;
      b += taps[k + 1]! * samples[first + k + 1]!;
      c += taps[k + 2]! * samples[first + k + 2]!;
      d += taps[k + 3]! * samples[first + k + 3]!;
    }
    for (; k < to; k++) a += taps[k]! * samples[first + k]!;
    out[m] = a + b + (c + d);
  }
  return out;
}
