/** Resamples by `ratio` (input samples per output sample) with a windowed sinc whose band narrows when ratio > 1.
 * `halfTaps` zero crossings a side; Source: Smith & Gossett 1984. @returns shape (outLen) */
export function resampleBy(input: Float32Array, ratio: number, outLen: number, halfTaps = 12): Float32Array {
  const cutoff = Math.min(1, 1 / ratio) * 0.96;
  const reach = Math.ceil(halfTaps / cutoff);
  const steps = 256; // table entries between two input samples
  const table = new Float32Array((reach + 1) * steps + 2);
  for (let k = 0; k < table.length; k++) {
    const x = k / steps;
    const window = x >= reach ? 0 : 0.5 + 0.5 * Math.cos((Math.PI * x) / reach);
    const arg = Math.PI * x * cutoff;
    table[k] = window * cutoff * (arg === 0 ? 1 : Math.sin(arg) / arg);
  }
  const output = new Float32Array(outLen);
  for (let n = 0; n < outLen; n++) {
    const centre = n * ratio;
    const from = Math.max(0, Math.ceil(centre - reach));
    const to = Math.min(input.length - 1, Math.floor(centre + reach));
    if (from > input.length) break;
    let sum = 0;
    for (let k = from; k <= to; k++) {
      const at = Math.abs(k - centre) * steps;
      const idx = at | 0;
      const low = table[idx] as number;
      sum += (input[k] as number) * (low + (at - idx) * ((table[idx + 1] as number) - low));
    }
    output[n] = sum;
  }
  return output;
}

/** 16-bit mono WAV bytes; samples beyond ±1 are clipped. Source: Microsoft RIFF WAVE, 44-byte header. */
export function wavBytes(samples: Float32Array, sampleRateHz: number): Uint8Array {
  const bytes = new Uint8Array(44 + samples.length * 2);
  const view = new DataView(bytes.buffer);
  const text = (at: number, s: string): void => {
    for (let k = 0; k < s.length; k++) view.setUint8(at + k, s.charCodeAt(k));
  };
  text(0, "RIFF");
  view.setUint32(4, 36 + samples.length * 2, true);
  text(8, "WAVEfmt ");
  view.setUint32(16, 16, true);
  view.setUint16(20, 1, true);
  view.setUint16(22, 1, true);
  view.setUint32(24, sampleRateHz, true);
  view.setUint32(28, sampleRateHz * 2, true);
  view.setUint16(32, 2, true);
  view.setUint16(34, 16, true);
  text(36, "data");
  view.setUint32(40, samples.length * 2, true);
  samples.forEach((x, k) => {
    view.setInt16(44 + 2 * k, Math.round(Math.max(-1, Math.min(1, x)) * 32767), true);
  });
  return bytes;
}

export const rms = (x: Float32Array, from = 0, to = x.length): number => {
  let sum = 0;
  for (let k = from; k < Math.min(to, x.length); k++) sum += (x[k] as number) ** 2;
  return Math.sqrt(sum / Math.max(1, Math.min(to, x.length) - from));
};

/** f0 by autocorrelation around an expected one, with a parabola through the peak. Cents from `expectedHz`, or undefined when unclear.
 * Source: de Cheveigné & Kawahara 2002, step 1. */
export function centsOff(
  samples: Float32Array,
  sampleRateHz: number,
  expectedHz: number,
  rangeCents = 150,
): number | undefined {
  const period = sampleRateHz / expectedHz;
  // Several periods away the same error in samples is a smaller one in cents.
  const periods = Math.max(1, Math.min(6, Math.floor(900 / period)));
  const span = 2 ** (rangeCents / 1200);
  const lagFrom = Math.floor((period * periods) / span);
  const lagTo = Math.ceil(period * periods * span);
  const len = Math.min(samples.length - lagTo - 1, Math.round(sampleRateHz * 0.35));
  if (len < period * 4) return undefined;
  const score = (lag: number): number => {
    let both = 0;
    let a = 0;
    let b = 0;
    for (let k = 0; k < len; k++) {
      const x = samples[k] as number;
      const y = samples[k + lag] as number;
      both += x * y;
      a += x * x;
      b += y * y;
    }
    return both / Math.sqrt(a * b + 1e-12);
  };
  let bestLag = lagFrom;
  let best = -1;
  for (let lag = lagFrom; lag <= lagTo; lag++) {
    const s = score(lag);
    if (s > best) {
      best = s;
      bestLag = lag;
    }
  }
  if (best < 0.5) return undefined;
  const [l, c, r] = [score(bestLag - 1), best, score(bestLag + 1)];
  const shift = (0.5 * (l - r)) / (l - 2 * c + r);
  return 1200 * Math.log2((period * periods) / (bestLag + (Number.isFinite(shift) ? shift : 0)));
}
