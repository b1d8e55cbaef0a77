import decodeWhole from "audio-decode";

/** WAV bytes through the outside decoder. */
export async function decodeWavForTest(
  bytes: Uint8Array,
): Promise<{ samples: Float32Array; sampleRateHz: number }> {
  const { channelData, sampleRate } = await decodeWhole(bytes);
  return { samples: channelData[0] as Float32Array, sampleRateHz: sampleRate };
}
