/** Bytes that a decoder has turned into channels become one checked Take.
 *
 * In: chunks of channel data, in order. Out: Take (mean of the channels, own sample rate or one that is asked for) with what was found of it.
 * Method: channels are averaged chunk by chunk and brought to the wanted rate as they come, so nothing but the finished take lies in
 * memory. The mean, not the sum: a centred guitar keeps its level. Our own code touches no codec; decoders are handed in by the caller.
 * Cannot: undo clipping, or choose the better of two microphones. */
import { PulgarError } from "../base/errors.js";
import { makeResampler, type Resampler } from "../dsp/resample.js";
import { makeClipCounter } from "./clipping.js";
import type { Take } from "./take.js";

/** Some frames of sound: one array a channel, all of one length, −1…1. */
export type AudioChunk = { channelData: readonly Float32Array[]; sampleRate: number };

const TAKE_LIMITS = {
  lowestRateHz: 8_000, // telephone: the guitar's fundamentals and two partials are still there
  highestRateHz: 192_000,
  mostChannels: 8, // 7.1
  shortestSec: 0.5, // less cannot hold a bar
  longestSec: 4 * 3600, // more is likely the wrong file; the listener itself has no limit
  silentPeak: 1e-4, // −80 dBFS: below the noise of a 16-bit recorder's input
} as const;

/** Averages the channels of all chunks into one Take.
 * @param options.rateHz rate of the take; its own when not given @param options.expectedSec what the header promises: room is made for so much,
 * and for more when more comes @param options.isShared in memory that several threads may see
 * @throws PulgarError "bad-rate", "bad-channels", "bad-samples", "too-large", "no-sound" */
export async function takeFromChunks(
  chunks: AsyncIterable<AudioChunk> | Iterable<AudioChunk>,
  fileName: string,
  options: { rateHz?: number; expectedSec?: number; isShared?: boolean } = {},
): Promise<{ take: Take; channelCount: number }> {
  const clips = makeClipCounter();
  let kept: GrowingSamples | undefined;
  let resampler: Resampler | undefined;
  let fileRateHz = 0;
  let channelCount = 0;
  let totalLen = 0;
  for await (const chunk of chunks) {
    const frameLen = chunk.channelData[0]?.length ?? 0;
    if (frameLen === 0) continue;
    if (kept === undefined) {
      fileRateHz = chunk.sampleRate;
      channelCount = chunk.channelData.length;
      checkRate(fileRateHz, channelCount, fileName);
      const rateHz = options.rateHz ?? fileRateHz;
      if (rateHz !== fileRateHz) resampler = makeResampler(fileRateHz, rateHz);
      const expectedLen = Math.min(options.expectedSec ?? 0, TAKE_LIMITS.longestSec) * rateHz;
      kept = growingSamples(expectedLen, options.isShared ? SharedArrayBuffer : ArrayBuffer);
    }
    totalLen += frameLen;
    if (totalLen > TAKE_LIMITS.longestSec * fileRateHz)
      throw new PulgarError(
        "too-large",
        `${fileName}: more than ${TAKE_LIMITS.longestSec / 3600} hours of sound`,
        "Cut out the take you mean, then try again.",
      );
    const mono = meanOfChannels(chunk.channelData, frameLen);
    refuseNonNumbers(mono, totalLen - frameLen, fileName);
    clips.add(mono);
    kept.add(resampler ? resampler.push(mono) : mono);
  }
  if (kept === undefined)
    throw new PulgarError(
      "no-sound",
      `${fileName}: holds no sound`,
      "Check that the recording was saved with its sound.",
    );
  if (resampler) kept.add(resampler.end());
  const take: Take = { samples: kept.whole(), sampleRateHz: options.rateHz ?? fileRateHz };
  const recorded = { sampleRateHz: fileRateHz, clippedShare: clips.share() };
  return { take: resampler ? { ...take, recorded } : take, channelCount };
}

function checkRate(sampleRateHz: number, channelCount: number, fileName: string): void {
  const { lowestRateHz, highestRateHz, mostChannels } = TAKE_LIMITS;
  if (!(sampleRateHz >= lowestRateHz && sampleRateHz <= highestRateHz))
    throw new PulgarError(
      "bad-rate",
      `${fileName}: ${sampleRateHz} Hz; need ${lowestRateHz} to ${highestRateHz} Hz`,
      "Record or convert at 44100 or 48000 Hz.",
    );
  if (channelCount > mostChannels)
    throw new PulgarError(
      "bad-channels",
      `${fileName}: ${channelCount} channels; need 1 to ${mostChannels}`,
      "Mix it down to one or two channels.",
    );
}

function meanOfChannels(channels: readonly Float32Array[], frameLen: number): Float32Array {
  const first = channels[0];
  if (channels.length === 1 && first) return first;
  const out = new Float32Array(frameLen);
  for (const channel of channels)
    for (let i = 0; i < frameLen; i++) out[i] = (out[i] ?? 0) + (channel[i] ?? 0);
  for (let i = 0; i < frameLen; i++) out[i] = (out[i] ?? 0) / channels.length;
  return out;
}

/** Before anything is filtered: one NaN would spread. @param firstIdx place of the first sample in the recording */
function refuseNonNumbers(samples: Float32Array, firstIdx: number, fileName: string): void {
  for (let i = 0; i < samples.length; i++)
    if (!Number.isFinite(samples[i] ?? 0))
      throw new PulgarError(
        "bad-samples",
        `${fileName}: sample ${firstIdx + i} is not a number; need finite samples`,
        "The file was written wrongly: export the recording again.",
      );
}

type GrowingSamples = { add: (part: Float32Array) => void; whole: () => Float32Array };

/** Samples in one array that grows by half when it is full. Room that is never written to costs no memory: the system gives pages when
 * they are touched, so a promised length is not taken on trust. */
function growingSamples(
  expectedLen: number,
  Memory: ArrayBufferConstructor | SharedArrayBufferConstructor,
): GrowingSamples {
  const make = (sampleLen: number): Float32Array =>
    new Float32Array(new Memory(Float32Array.BYTES_PER_ELEMENT * Math.ceil(sampleLen)));
  let room = make(expectedLen + (1 << 16));
  let len = 0;
  return {
    add(part) {
      if (len + part.length > room.length) {
        const larger = make((len + part.length) * 1.5);
        larger.set(room.subarray(0, len));
        room = larger;
      }
      room.set(part, len);
      len += part.length;
    },
    whole: () => room.subarray(0, len),
  };
}

/** Refuses a take that cannot hold a study.
 * @throws PulgarError "too-short", "silent" */
export function checkTake(take: Take, fileName: string): void {
  const { samples, sampleRateHz } = take;
  let peak = 0;
  for (let i = 0; i < samples.length; i++) {
    const size = Math.abs(samples[i] ?? 0);
    if (size > peak) peak = size;
  }
  const sec = samples.length / sampleRateHz;
  if (sec < TAKE_LIMITS.shortestSec)
    throw new PulgarError(
      "too-short",
      `${fileName}: ${samples.length} samples (${sec.toFixed(3)} s); need ${TAKE_LIMITS.shortestSec} s or more`,
      "Is this the right file?",
    );
  if (peak < TAKE_LIMITS.silentPeak)
    throw new PulgarError(
      "silent",
      `${fileName}: silent (loudest sample ${(20 * Math.log10(Math.max(peak, 1e-9))).toFixed(0)} dBFS)`,
      "Check the microphone and the input that was recorded.",
    );
}
