/** Slower or faster with the pitch kept.
 * In: channels and the share of the tempo. Out: channels of the new length, start aligned with the input's.
 * The stretching itself is handed in (a wasm engine opened in cli/stretcher.ts); here its delays are taken off and the ends are padded. */

/** An engine for one stream. Lengths are samples. `seek` primes it with input that ends at its input delay; `process` eats input and
 * gives `outLen` samples that are late by its output delay. */
export type StretchEngine = {
  inputDelayLen: number;
  outputDelayLen: number;
  seek: (input: readonly Float32Array[], share: number) => void;
  process: (input: readonly Float32Array[], outLen: number) => Float32Array[];
};
export type OpenStretch = (channelCount: number, sampleRateHz: number) => StretchEngine;

/** Samples of output a call: small enough for any engine's buffer, large enough to be quick. */
const BLOCK_LEN = 2048;

/** A pluck is smeared over the engine's block when it is slowed much, and its rise comes late: 4 to 17 ms at half speed, 3 to 6 at 60 %, measured on
 * plucked strings from low E to high E. The sound is moved forward by the middle of that. Seconds. */
const advanceSec = (share: number): number => 0.011 * Math.max(0, Math.min(1.5, (0.65 - share) / 0.15));

/** @param share of the tempo: 0.5 is half speed, twice as long; 0.25…2
 * @returns channels of round(length / share) samples */
export function stretch(
  channels: readonly Float32Array[],
  sampleRateHz: number,
  share: number,
  open: OpenStretch,
): Float32Array[] {
  const inLen = channels[0]?.length ?? 0;
  const outLen = Math.round(inLen / share);
  if (Math.abs(share - 1) < 1e-6) return channels.map((c) => c.slice());
  const engine = open(channels.length, sampleRateHz);
  const out = channels.map(() => new Float32Array(outLen));
  const part = (fromIdx: number, untilIdx: number): Float32Array[] =>
    channels.map((c) => {
      const piece = new Float32Array(Math.max(0, untilIdx - fromIdx));
      const from = Math.max(0, fromIdx);
      if (from < Math.min(untilIdx, inLen))
        piece.set(c.subarray(from, Math.min(untilIdx, inLen)), from - fromIdx);
      return piece;
    });
  // Prime with silence before the start and the first input delay of sound; then the first outputs are the time before the start.
  let eaten = engine.inputDelayLen;
  engine.seek(part(eaten - engine.inputDelayLen - engine.outputDelayLen, eaten), share);
  const lateLen = engine.outputDelayLen + Math.round(advanceSec(share) * sampleRateHz);
  const total = outLen + lateLen;
  const startEaten = eaten;
  for (let done = 0; done < total; done += BLOCK_LEN) {
    const len = Math.min(BLOCK_LEN, total - done);
    const until = startEaten + Math.round((done + len) * share);
    const made = engine.process(part(eaten, until), len);
    eaten = until;
    for (const [idx, channel] of out.entries()) {
      const piece = made[idx];
      if (!piece) continue;
      const at = done - lateLen;
      if (at >= 0) channel.set(piece.subarray(0, Math.min(len, outLen - at)), at);
      else if (at + len > 0) channel.set(piece.subarray(-at, -at + Math.min(len + at, outLen)), 0);
    }
  }
  return out;
}
