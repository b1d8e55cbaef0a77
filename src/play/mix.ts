/** Mono tracks → two channels: gain and place between the speakers. */

/** @property pan −1 left … 1 right */
type MixTrack = { samples: Float32Array; gain: number; pan: number };
export type MixTracks = (
  tracks: readonly MixTrack[],
  sampleRateHz: number,
) => Promise<[Float32Array, Float32Array]>;

/** Equal-power panning, as the Web Audio API's StereoPannerNode does it for mono input (W3C Web Audio API 1.1, section 1.26). */
export const mixDown: MixTracks = async (tracks) => {
  const len = Math.max(0, ...tracks.map((t) => t.samples.length));
  const left = new Float32Array(len);
  const right = new Float32Array(len);
  for (const { samples, gain, pan } of tracks) {
    const angle = ((Math.max(-1, Math.min(1, pan)) + 1) / 2) * (Math.PI / 2);
    const leftGain = gain * Math.cos(angle);
    const rightGain = gain * Math.sin(angle);
    for (let idx = 0; idx < samples.length; idx++) {
      left[idx] = left[idx]! + samples[idx]! * leftGain;
      right[idx] = right[idx]! + samples[idx]! * rightGain;
    }
  }
  return [left, right];
};
