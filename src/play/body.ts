/** The body of the guitar over the dry strings: air and top resonances, and the dull edge of a wooden box. In place. */

/** Resonances: Hz, sharpness, gain beside the direct sound of 1. Origin: usual places of a guitar's air (about 100 Hz), top (about 200 Hz)
 * and higher plate modes; from memory of published mode tables, gains set by ear and spectrum. */
const MODES = [
  [101, 14, 0.55],
  [204, 11, 0.5],
  [392, 9, 0.25],
  [570, 8, 0.14],
] as const;
/** Above this the box radiates less; a one-pole fall. */
const EDGE_HZ = 5200;

/** @param samples mono, changed in place */
export function addBody(samples: Float32Array, sampleRateHz: number): void {
  const dry = samples.slice();
  for (const [freqHz, sharpness, gain] of MODES) {
    // Band-pass with peak gain 1: R. Bristow-Johnson, "Cookbook formulae for audio EQ biquad filter coefficients".
    const omega = (2 * Math.PI * freqHz) / sampleRateHz;
    const alpha = Math.sin(omega) / (2 * sharpness);
    const a0 = 1 + alpha;
    const b = alpha / a0;
    const a1 = (-2 * Math.cos(omega)) / a0;
    const a2 = (1 - alpha) / a0;
    let x1 = 0;
    let x2 = 0;
    let y1 = 0;
    let y2 = 0;
    for (let idx = 0; idx < dry.length; idx++) {
      const x = dry[idx]!;
      const y = b * (x - x2) - a1 * y1 - a2 * y2;
      x2 = x1;
      x1 = x;
      y2 = y1;
      y1 = y;
      samples[idx] = samples[idx]! + gain * y;
    }
  }
  const step = 1 - Math.exp((-2 * Math.PI * EDGE_HZ) / sampleRateHz);
  let memory = 0;
  for (let idx = 0; idx < samples.length; idx++) {
    memory += step * (samples[idx]! - memory);
    samples[idx] = memory;
  }
}
