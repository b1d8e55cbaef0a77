/** One plucked string: a delay line with a loss filter (extended Karplus-Strong), no samples of any guitar.
 * In: pitch, loudness, how long it is held. Out: added into a buffer.
 * Method: the line is filled with the shape of a string pulled aside near the bridge, rounded by the flesh of the finger; each turn loses
 * a little, highs more than lows; a first-order allpass gives the fraction of a sample that the pitch needs.
 * Source: Jaffe & Smith 1983, "Extensions of the Karplus-Strong Plucked-String Algorithm", Computer Music Journal 7(2). Cannot: bends, string noise. */

/** @property holdSec time until the string is stopped @property loudness 0…1 @property brightness 0…1, how sharp the pluck is
 * @property pluckShare where along the string it is plucked, 0…0.5 of its length from the bridge @property t60Sec time to fall by 60 dB */
export type Pluck = {
  freqHz: number;
  startIdx: number;
  holdSec: number;
  loudness: number;
  brightness: number;
  pluckShare: number;
  t60Sec: number;
  seed: number;
};

/** After a string is stopped it is gone in this time: a finger laid on it, neither a click nor a tail. */
const STOP_T60_SEC = 0.16;
/** Share of the previous sample in the loss filter: how fast highs die. 0.5 would be the classic, dull average. */
const LOSS = 0.22;

/** Adds one pluck into `out`; what would fall outside is dropped.
 * @param line scratch of at least sampleRateHz/20 samples, overwritten */
export function addPluck(out: Float32Array, sampleRateHz: number, pluck: Pluck, line: Float32Array): void {
  const { freqHz, loudness } = pluck;
  const omega = (2 * Math.PI * freqHz) / sampleRateHz;
  // Delay of the loss filter (1 − s) + s·z⁻¹ at the fundamental, in samples.
  const lossDelay = Math.atan2(LOSS * Math.sin(omega), 1 - LOSS + LOSS * Math.cos(omega)) / omega;
  const wanted = sampleRateHz / freqHz - lossDelay;
  let lineLen = Math.floor(wanted - 0.3);
  if (lineLen < 2) lineLen = 2;
  if (lineLen > line.length) throw new Error(`pluck of ${freqHz} Hz needs a line of ${lineLen} samples`);
  const fraction = wanted - lineLen; // 0.3…1.3, where the allpass is flat
  // Allpass coefficient for exactly this delay at the fundamental, not only at 0 Hz.
  const allpass = Math.sin(((1 - fraction) * omega) / 2) / Math.sin(((1 + fraction) * omega) / 2);
  const lossGain = Math.hypot(1 - LOSS + LOSS * Math.cos(omega), LOSS * Math.sin(omega));
  const perTurn = (t60: number): number => Math.min(0.99999, 10 ** (-3 / (freqHz * t60)) / lossGain);
  const ringGain = perTurn(pluck.t60Sec);
  const stopGain = perTurn(STOP_T60_SEC);

  excite(line, lineLen, pluck);
  const holdLen = Math.round(pluck.holdSec * sampleRateHz);
  const tailLen = Math.round(STOP_T60_SEC * 1.2 * sampleRateHz);
  const endIdx = Math.min(out.length, pluck.startIdx + holdLen + tailLen);
  const stopIdx = pluck.startIdx + holdLen;
  let at = 0;
  let lossMemory = 0;
  let passIn = 0;
  let passOut = 0;
  for (let idx = pluck.startIdx; idx < endIdx; idx++) {
    const x = line[at]!;
    const lost = ((1 - LOSS) * x + LOSS * lossMemory) * (idx < stopIdx ? ringGain : stopGain);
    lossMemory = x;
    const y = allpass * lost + passIn - allpass * passOut;
    passIn = lost;
    passOut = y;
    line[at] = y;
    if (++at === lineLen) at = 0;
    if (idx >= 0) out[idx] = out[idx]! + x * loudness;
  }
}

/** The string's first turn: a pluck at a point (a step up and down, a period apart), a trace of noise, rounded. */
function excite(line: Float32Array, lineLen: number, pluck: Pluck): void {
  let state = (pluck.seed * 2654435761 + 12345) >>> 0;
  const random = (): number => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return state / 2147483648 - 1;
  };
  const pointLen = Math.max(1, Math.round(pluck.pluckShare * lineLen));
  for (let idx = 0; idx < lineLen; idx++) {
    const shape = idx < pointLen ? 1 : -pointLen / (lineLen - pointLen);
    line[idx] = shape + 0.25 * random();
  }
  // Rounding: two passes of a one-pole, softer for a soft touch, run round the loop twice so that its ends meet.
  const pole = 0.86 - 0.5 * pluck.brightness;
  for (let pass = 0; pass < 2; pass++) {
    let memory = 0;
    for (let turn = 0; turn < 2; turn++)
      for (let idx = 0; idx < lineLen; idx++) {
        memory += (1 - pole) * (line[idx]! - memory);
        if (turn === 1) line[idx] = memory;
      }
  }
  let mean = 0;
  for (let idx = 0; idx < lineLen; idx++) mean += line[idx]!;
  mean /= lineLen;
  let energy = 0;
  for (let idx = 0; idx < lineLen; idx++) {
    line[idx] = line[idx]! - mean;
    energy += line[idx]! ** 2;
  }
  const level = 0.22 / Math.sqrt(energy / lineLen + 1e-12);
  for (let idx = 0; idx < lineLen; idx++) line[idx] = line[idx]! * level;
}
