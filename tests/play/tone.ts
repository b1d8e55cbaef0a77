/** Measures of a tone for the tests, by the phase of a demodulated partial and by energy; nothing of the code under test. */

/** How far a steady tone is from `freqHz`, in cents, from the phase that it gains between two windows. */
export function centsOff(
  samples: Float32Array,
  sampleRateHz: number,
  freqHz: number,
  fromSec: number,
  untilSec: number,
): number {
  const half = Math.floor(((untilSec - fromSec) / 2) * sampleRateHz);
  const start = Math.round(fromSec * sampleRateHz);
  // Windows overlap by three quarters, so that a whole turn of phase is far beyond any error looked for.
  const hop = Math.floor(half / 4);
  const phase = (at: number): number => {
    let re = 0;
    let im = 0;
    for (let k = 0; k < half; k++) {
      const w = 0.5 - 0.5 * Math.cos((2 * Math.PI * k) / half);
      const angle = (2 * Math.PI * freqHz * (at + k)) / sampleRateHz;
      re += w * (samples[at + k] ?? 0) * Math.cos(angle);
      im -= w * (samples[at + k] ?? 0) * Math.sin(angle);
    }
    return Math.atan2(im, re);
  };
  let turn = phase(start + hop) - phase(start);
  turn -= 2 * Math.PI * Math.round(turn / (2 * Math.PI));
  const errorHz = turn / (2 * Math.PI) / (hop / sampleRateHz);
  return 1200 * Math.log2((freqHz + errorHz) / freqHz);
}

/** Seconds at which the short-time energy rises through half of its local maximum near `nearSec`. */
export function onsetSec(samples: Float32Array, sampleRateHz: number, nearSec: number): number {
  const len = Math.round(0.005 * sampleRateHz);
  const centre = Math.round(nearSec * sampleRateHz);
  const energy = (at: number): number => {
    let sum = 0;
    for (let k = 0; k < len; k++) sum += (samples[at + k] ?? 0) ** 2;
    return sum;
  };
  let max = 0;
  for (let at = centre - 2000; at < centre + 6000; at += 16) max = Math.max(max, energy(at));
  const floor = energy(centre - 4000);
  let at = centre - 3500;
  while (at < centre + 6000 && energy(at) < floor + (max - floor) / 2) at += 8;
  return (at + len / 2) / sampleRateHz;
}

/** Are two signals the same, sample for sample? (A matcher on a million samples takes minutes.) */
export const sameSamples = (a: Float32Array, b: Float32Array): boolean =>
  a.length === b.length && a.every((x, k) => x === b[k]);
