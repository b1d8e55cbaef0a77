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
/** @property sec length of the analysis block @property overlap blocks that lie over each sample */
export type StretchBlock = { sec: number; overlap: number };
export type OpenStretch = (channelCount: number, sampleRateHz: number, block: StretchBlock) => StretchEngine;

/** Samples of output a call: small enough for any engine's buffer, large enough to be quick. */
const BLOCK_LEN = 2048;

/** The block for a share of the tempo. Measured on plucks from low D (73 Hz) to high E, pitch after 0.3 s and rise against the input's:
 * long blocks smear a pluck that is slowed much (80 ms: 4 to 19 ms late at 50 %), short ones lose a low string near full tempo (80 ms: 28 cents
 * at 80 %, 60 ms: over a semitone). With these: pitch within 2.4 cents from 50 % to 150 %, and the rise within 9 ms after the correction below. */
const blockFor = (share: number): StretchBlock =>
  share < 0.675 ? { sec: 0.06, overlap: 6 } : { sec: 0.1, overlap: 4 };

/** Under half the tempo one pass loses pitch (35 %: 29 cents) or smears; two or three smaller steps do not. */
const passesFor = (share: number): number => (share >= 0.5 ? 1 : share >= 0.255 ? 2 : 3);

/** A pluck is smeared over the block when it is slowed, and the middle of its rise comes late: 4 ms at half speed, 2 at 60 %, 0.4 at 90 % in the
 * median of the same plucks, and of the recorded samples above 2 kHz. The sound is moved forward by that. Seconds. */
const advanceSec = (share: number): number => 0.01 * Math.max(0, 1 - share) ** 1.4;

/** @param share of the tempo: 0.5 is half speed, twice as long; 0.25…2
 * @returns channels of round(length / share) samples */
export function stretch(
  channels: readonly Float32Array[],
  sampleRateHz: number,
  share: number,
  open: OpenStretch,
): Float32Array[] {
  if (Math.abs(share - 1) < 1e-6) return channels.map((c) => c.slice());
  const outLen = Math.round((channels[0]?.length ?? 0) / share);
  const passes = passesFor(share);
  let sound = channels;
  for (let pass = 1; pass < passes; pass++)
    sound = stretchOnce(sound, sampleRateHz, share ** (1 / passes), undefined, open);
  return stretchOnce(sound, sampleRateHz, share ** (1 / passes), outLen, open);
}

/** One pass of the engine. @param wantedLen length of the result, undefined for round(length / share) */
function stretchOnce(
  channels: readonly Float32Array[],
  sampleRateHz: number,
  share: number,
  wantedLen: number | undefined,
  open: OpenStretch,
): Float32Array[] {
  const inLen = channels[0]?.length ?? 0;
  const outLen = wantedLen ?? Math.round(inLen / share);
  const engine = open(channels.length, sampleRateHz, blockFor(share));
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
