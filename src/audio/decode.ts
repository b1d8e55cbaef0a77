/** Bytes that a decoder has turned into channels become one checked Take.
 *
 * In: chunks of channel data, in order. Out: Take (mean of the channels, own sample rate) with what was found of it.
 * Method: channels are averaged chunk by chunk, so a stereo hour never lies in memory twice. The mean, not the sum:
 * a centred guitar keeps its level. Our own code touches no codec; decoders are handed in by the caller.
 * Cannot: undo clipping, or choose the better of two microphones. */
import { PulgarError } from "../base/errors.js";
import type { Take } from "./take.js";

/** Some frames of sound: one array a channel, all of one length, −1…1. */
export type AudioChunk = { channelData: readonly Float32Array[]; sampleRate: number };

export const TAKE_LIMITS = {
  lowestRateHz: 8_000, // telephone: the guitar's fundamentals and two partials are still there
  highestRateHz: 192_000,
  mostChannels: 8, // 7.1
  shortestSec: 0.5, // less cannot hold a bar
  longestSec: 4 * 3600, // more is likely the wrong file; the listener itself has no limit
  silentPeak: 1e-4, // −80 dBFS: below the noise of a 16-bit recorder's input
} as const;

/** Averages the channels of all chunks into one Take.
 * @throws PulgarError "bad-rate", "bad-channels", "bad-samples", "too-large", "no-sound" */
export async function takeFromChunks(
  chunks: AsyncIterable<AudioChunk> | Iterable<AudioChunk>,
  fileName: string,
): Promise<{ take: Take; channelCount: number }> {
  const parts: Float32Array[] = [];
  let sampleRateHz = 0;
  let channelCount = 0;
  let totalLen = 0;
  for await (const chunk of chunks) {
    const frameLen = chunk.channelData[0]?.length ?? 0;
    if (frameLen === 0) continue;
    if (sampleRateHz === 0) {
      sampleRateHz = chunk.sampleRate;
      channelCount = chunk.channelData.length;
      checkRate(sampleRateHz, channelCount, fileName);
    }
    totalLen += frameLen;
    if (totalLen > TAKE_LIMITS.longestSec * sampleRateHz)
      throw new PulgarError(
        "too-large",
        `${fileName}: more than ${TAKE_LIMITS.longestSec / 3600} hours of sound`,
        "Cut out the take you mean, then try again.",
      );
    parts.push(meanOfChannels(chunk.channelData, frameLen));
  }
  if (totalLen === 0)
    throw new PulgarError(
      "no-sound",
      `${fileName}: holds no sound`,
      "Check that the recording was saved with its sound.",
    );
  return { take: { samples: joined(parts, totalLen), sampleRateHz }, channelCount };
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
  if (channels.length === 1 && first) return first.slice();
  const out = new Float32Array(frameLen);
  for (const channel of channels)
    for (let i = 0; i < frameLen; i++) out[i] = (out[i] ?? 0) + (channel[i] ?? 0);
  for (let i = 0; i < frameLen; i++) out[i] = (out[i] ?? 0) / channels.length;
  return out;
}

function joined(parts: Float32Array[], totalLen: number): Float32Array {
  const only = parts[0];
  if (parts.length === 1 && only) return only;
  const out = new Float32Array(totalLen);
  let idx = 0;
  for (let k = 0; k < parts.length; k++) {
    out.set(parts[k] ?? new Float32Array(0), idx);
    idx += parts[k]?.length ?? 0;
    parts[k] = new Float32Array(0); // let go as we copy: two whole copies never stand side by side for long
  }
  return out;
}

/** Refuses a take that cannot hold a study.
 * @throws PulgarError "bad-samples" for NaN or infinity, "too-short", "silent" */
export function checkTake(take: Take, fileName: string): void {
  const { samples, sampleRateHz } = take;
  let peak = 0;
  for (let i = 0; i < samples.length; i++) {
    const x = samples[i] ?? 0;
    if (!Number.isFinite(x))
      throw new PulgarError(
        "bad-samples",
        `${fileName}: sample ${i} is not a number; need finite samples`,
        "The file was written wrongly: export the recording again.",
      );
    const size = x < 0 ? -x : x;
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
