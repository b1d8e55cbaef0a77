import FFT from "fft.js";
import { makeRng } from "./rng.js";
import { rms } from "./wave.js";

/** Impulse response of a plausible room: the direct sound, eight early reflections, noise that decays by 60 dB in `t60Sec`.
 * @param wetDb energy of all that is reflected against the direct sound @returns shape (n), first sample 1 */
export function roomImpulse(
  t60Sec: number,
  wetDb: number,
  sampleRateHz: number,
  seed: number | string,
): Float32Array {
  const rng = makeRng(`room ${seed}`);
  const tailLen = Math.round(t60Sec * 1.1 * sampleRateHz);
  const impulse = new Float32Array(tailLen);
  const startIdx = Math.round(0.018 * sampleRateHz);
  let smooth = 0;
  for (let k = startIdx; k < tailLen; k++) {
    smooth += 0.55 * (rng.next() * 2 - 1 - smooth); // air and walls take the highs first
    const ramp = Math.min(1, (k - startIdx) / (0.02 * sampleRateHz));
    impulse[k] = smooth * ramp * 10 ** ((-3 * k) / (t60Sec * sampleRateHz));
  }
  const tail = rms(impulse) * Math.sqrt(tailLen);
  let early = 0;
  const reflections = Array.from({ length: 8 }, (_, idx) => {
    const atSec = 0.004 + 0.005 * idx + rng.next() * 0.004;
    const gain = (rng.chance(0.5) ? 1 : -1) * (0.6 + 0.4 * rng.next()) * 10 ** ((-3 * atSec) / t60Sec);
    early += gain * gain;
    return { idx: Math.round(atSec * sampleRateHz), gain };
  });
  const wet = 10 ** (wetDb / 20);
  for (let k = 0; k < tailLen; k++) impulse[k] = ((impulse[k] as number) / tail) * wet * Math.SQRT1_2;
  for (const { idx, gain } of reflections)
    if (idx < tailLen)
      impulse[idx] = (impulse[idx] as number) + (gain / Math.sqrt(early)) * wet * Math.SQRT1_2;
  impulse[0] = 1;
  return impulse;
}

/** Convolution by overlap-add. @returns shape (signal + impulse − 1), cut to `outLen` */
export function convolve(signal: Float32Array, impulse: Float32Array, outLen: number): Float32Array {
  let size = 4096;
  while (size < impulse.length * 2) size *= 2;
  const block = size - impulse.length + 1;
  const fft = new FFT(size);
  const response = fft.createComplexArray() as number[];
  const padded = new Array<number>(size).fill(0);
  impulse.forEach((x, k) => {
    padded[k] = x;
  });
  fft.realTransform(response, padded);
  fft.completeSpectrum(response);
  const output = new Float32Array(outLen);
  const spectrum = fft.createComplexArray() as number[];
  const product = fft.createComplexArray() as number[];
  const time = fft.createComplexArray() as number[];
  for (let from = 0; from < signal.length && from < outLen; from += block) {
    for (let k = 0; k < size; k++) padded[k] = k < block ? (signal[from + k] ?? 0) : 0;
    fft.realTransform(spectrum, padded);
    fft.completeSpectrum(spectrum);
    for (let k = 0; k < 2 * size; k += 2) {
      const [ar, ai] = [spectrum[k] as number, spectrum[k + 1] as number];
      const [br, bi] = [response[k] as number, response[k + 1] as number];
      product[k] = ar * br - ai * bi;
      product[k + 1] = ar * bi + ai * br;
    }
    fft.inverseTransform(time, product);
    const to = Math.min(size, outLen - from);
    for (let k = 0; k < to; k++) output[from + k] = (output[from + k] as number) + (time[2 * k] as number);
  }
  return output;
}
