/** Loudness and true peak of a finished track, and bringing it to a target.
 * Method: K-weighting, 400 ms blocks with 75 % overlap, gates at −70 LUFS and 10 LU under the mean; true peak by four-fold oversampling.
 * Source: ITU-R BS.1770-4, annexes 1 and 2; filter shapes for any rate as reckoned from its 48 kHz coefficients. */

/** LUFS, gated, over all channels (weight 1 each: mono, stereo). −Infinity for silence or less than 400 ms. */
export function loudnessLufs(channels: readonly Float32Array[], sampleRateHz: number): number {
  const hop = Math.round(sampleRateHz * 0.1);
  const first = channels[0];
  if (!first || first.length < 4 * hop) return Number.NEGATIVE_INFINITY;
  const hops = Math.floor(first.length / hop);
  const power = new Float64Array(hops);
  for (const channel of channels) addHopPower(channel, sampleRateHz, hop, power);
  const blocks: number[] = [];
  for (let idx = 0; idx + 4 <= hops; idx++)
    blocks.push((power[idx]! + power[idx + 1]! + power[idx + 2]! + power[idx + 3]!) / (4 * hop));
  const mean = (list: readonly number[]): number => list.reduce((sum, p) => sum + p, 0) / list.length;
  const toLufs = (p: number): number => -0.691 + 10 * Math.log10(p);
  const loud = blocks.filter((p) => p > 0 && toLufs(p) > -70);
  if (loud.length === 0) return Number.NEGATIVE_INFINITY;
  const gate = toLufs(mean(loud)) - 10;
  const gated = loud.filter((p) => toLufs(p) > gate);
  return gated.length === 0 ? Number.NEGATIVE_INFINITY : toLufs(mean(gated));
}

/** Adds the K-weighted energy of each hop. */
function addHopPower(samples: Float32Array, sampleRateHz: number, hop: number, power: Float64Array): void {
  const shelf = shelfFilter(sampleRateHz);
  const pass = highPassFilter(sampleRateHz);
  let [s1, s2, p1, p2] = [0, 0, 0, 0];
  for (let h = 0; h < power.length; h++) {
    let sum = 0;
    for (let idx = h * hop; idx < (h + 1) * hop; idx++) {
      const x = samples[idx]!;
      const y = shelf.b0 * x + s1; // transposed direct form II
      s1 = shelf.b1 * x - shelf.a1 * y + s2;
      s2 = shelf.b2 * x - shelf.a2 * y;
      const z = pass.b0 * y + p1;
      p1 = pass.b1 * y - pass.a1 * z + p2;
      p2 = pass.b2 * y - pass.a2 * z;
      sum += z * z;
    }
    power[h] = power[h]! + sum;
  }
}

type Biquad = { b0: number; b1: number; b2: number; a1: number; a2: number };

/** Stage 1, the head: +4 dB above about 1.7 kHz. */
function shelfFilter(sampleRateHz: number): Biquad {
  const k = Math.tan((Math.PI * 1681.974450955533) / sampleRateHz);
  const q = 0.7071752369554196;
  const vh = 10 ** (3.999843853973347 / 20);
  const vb = vh ** 0.4996667741545416;
  const a0 = 1 + k / q + k * k;
  return {
    b0: (vh + (vb * k) / q + k * k) / a0,
    b1: (2 * (k * k - vh)) / a0,
    b2: (vh - (vb * k) / q + k * k) / a0,
    a1: (2 * (k * k - 1)) / a0,
    a2: (1 - k / q + k * k) / a0,
  };
}

/** Stage 2, revised low-frequency B curve: high-pass at about 38 Hz. */
function highPassFilter(sampleRateHz: number): Biquad {
  const k = Math.tan((Math.PI * 38.13547087602444) / sampleRateHz);
  const q = 0.5003270373238773;
  const a0 = 1 + k / q + k * k;
  return { b0: 1, b1: -2, b2: 1, a1: (2 * (k * k - 1)) / a0, a2: (1 - k / q + k * k) / a0 };
}

const PHASES = 4;
const TAPS = 24; // a side lobe of the window is under −60 dB: far below the tenth of a decibel that matters

/** Largest value between the samples, by four-fold oversampling with a windowed sinc; at least the largest sample. */
export function truePeak(channels: readonly Float32Array[]): number {
  let peak = 0;
  for (const samples of channels)
    for (let idx = 0; idx < samples.length; idx++) peak = Math.max(peak, Math.abs(samples[idx]!));
  // Only near large samples can the curve between them exceed the peak.
  const threshold = peak * 0.6;
  const kernels = Array.from({ length: PHASES - 1 }, (_, phase) => sincKernel((phase + 1) / PHASES));
  for (const samples of channels)
    for (let idx = 0; idx + 1 < samples.length; idx++) {
      if (Math.abs(samples[idx]!) < threshold && Math.abs(samples[idx + 1]!) < threshold) continue;
      for (const kernel of kernels) {
        let sum = 0;
        for (let tap = 0; tap < TAPS; tap++) {
          const at = idx + tap - TAPS / 2 + 1;
          if (at >= 0 && at < samples.length) sum += samples[at]! * kernel[tap]!;
        }
        peak = Math.max(peak, Math.abs(sum));
      }
    }
  return peak;
}

/** Weights of the samples idx − 11 … idx + 12 for the value at idx + fraction; Hann-windowed sinc. */
function sincKernel(fraction: number): Float64Array {
  const kernel = new Float64Array(TAPS);
  for (let tap = 0; tap < TAPS; tap++) {
    const x = tap - TAPS / 2 + 1 - fraction;
    const sinc = x === 0 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x);
    kernel[tap] = sinc * (0.5 + 0.5 * Math.cos((Math.PI * x) / (TAPS / 2)));
  }
  return kernel;
}

/** @property lufs target loudness @property peakDb ceiling of the true peak */
const LOUDNESS_TARGET = Object.freeze({ lufs: -16, peakDb: -1.2 });

/** Brings a track to the target, in place: gain, then a limiter that looks ahead, and the gain again for what it took.
 * Silence is left as it is. */
export function toTarget(
  channels: readonly Float32Array[],
  sampleRateHz: number,
  target = LOUDNESS_TARGET,
): void {
  const ceiling = 10 ** (target.peakDb / 20);
  for (let pass = 0; pass < 4; pass++) {
    const now = loudnessLufs(channels, sampleRateHz);
    if (!Number.isFinite(now)) return;
    if (pass > 0 && Math.abs(now - target.lufs) < 0.05) break;
    const gain = 10 ** ((target.lufs - now) / 20);
    for (const samples of channels)
      for (let idx = 0; idx < samples.length; idx++) samples[idx] = samples[idx]! * gain;
    limit(channels, sampleRateHz, ceiling * 0.97);
  }
  const peak = truePeak(channels);
  if (peak > ceiling)
    for (const samples of channels)
      for (let idx = 0; idx < samples.length; idx++) samples[idx] = samples[idx]! * (ceiling / peak);
}

/** A limiter that looks 3 ms ahead and lets go in 80 ms; both channels share its gain, so that the image stands still. */
function limit(channels: readonly Float32Array[], sampleRateHz: number, ceiling: number): void {
  const len = channels[0]?.length ?? 0;
  const ahead = Math.round(0.003 * sampleRateHz);
  const release = Math.exp(-1 / (0.08 * sampleRateHz));
  let reduction = 1; // gain that the loudest sample within reach needs, released slowly
  const gains = new Float32Array(len);
  let exceeds = false;
  for (let idx = len - 1; idx >= 0; idx--) {
    let largest = 0;
    for (const samples of channels) largest = Math.max(largest, Math.abs(samples[idx]!));
    const need = largest > ceiling ? ceiling / largest : 1;
    if (need < 1) exceeds = true;
    // Run backwards: reach back `ahead` samples by a fast exponential, so that the gain is down before the peak.
    reduction = need < reduction ? need : 1 - (1 - reduction) * Math.exp(-5 / ahead);
    gains[idx] = reduction;
  }
  if (!exceeds) return;
  let gain = 1;
  for (let idx = 0; idx < len; idx++) {
    const wanted = gains[idx]!;
    gain = wanted < gain ? wanted : 1 - (1 - gain) * release;
    if (gain > wanted) gain = wanted;
    for (const samples of channels) samples[idx] = samples[idx]! * gain;
  }
}
