/** The same mix by web-audio-api's offline context: gain and pan nodes, a high-pass that keeps rumble out.
 * Rendered in pieces of 20 s: one context for ten minutes took 18 s and 3.5 GB. The pieces overlap by the time the filter needs to settle. */
import { OfflineAudioContext } from "web-audio-api";
import type { MixTracks } from "../src/play/mix.js";

const PIECE_SEC = 20;
const SETTLE_SEC = 0.25;
/** Under the lowest string of any tuning here (D2 is 73 Hz): only rumble goes. */
const RUMBLE_HZ = 30;

export const mixByWebAudio: MixTracks = async (tracks, sampleRateHz) => {
  const len = Math.max(0, ...tracks.map((t) => t.samples.length));
  const left = new Float32Array(len);
  const right = new Float32Array(len);
  const settleLen = Math.round(SETTLE_SEC * sampleRateHz);
  const pieceLen = Math.round(PIECE_SEC * sampleRateHz);
  for (let at = 0; at < len; at += pieceLen) {
    const from = Math.max(0, at - settleLen);
    const until = Math.min(len, at + pieceLen);
    const context = new OfflineAudioContext(2, until - from, sampleRateHz);
    const filter = context.createBiquadFilter();
    filter.type = "highpass";
    filter.frequency.value = RUMBLE_HZ;
    filter.connect(context.destination);
    for (const track of tracks) {
      const buffer = context.createBuffer(1, until - from, sampleRateHz);
      buffer.getChannelData(0).set(track.samples.subarray(from, until));
      const source = context.createBufferSource();
      source.buffer = buffer;
      const gain = context.createGain();
      gain.gain.value = track.gain;
      const panner = context.createStereoPanner();
      panner.pan.value = track.pan;
      source.connect(gain);
      gain.connect(panner);
      panner.connect(filter);
      source.start(0);
    }
    const made = await context.startRendering();
    left.set(made.getChannelData(0).subarray(at - from, until - from), at);
    right.set(made.getChannelData(1).subarray(at - from, until - from), at);
  }
  return [left, right];
};
