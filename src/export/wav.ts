import { PulgarError } from "../base/errors.js";
import { clamp } from "../base/numbers.js";

/** @property bits 16 and 24 are whole numbers, 32 is IEEE float */
export type WavOptions = { bits?: 16 | 24 | 32 };

/** Samples as a RIFF WAVE file. Whole-number formats are clipped at ±1 and rounded to the nearest step; 16 bits carry no dither
 * (their noise lies 90 dB under the loudest sample).
 * @param sound one channel, or a list of channels of one length, −1…1
 * @throws PulgarError "bad-shape" for no channel or unequal ones
 * Source: Multimedia Programming Interface and Data Specifications 1.0 (1991), and its WAVE_FORMAT_IEEE_FLOAT. */
export function encodeWav(
  sound: Float32Array | readonly Float32Array[],
  sampleRateHz: number,
  options: WavOptions = {},
): Uint8Array {
  const channels = sound instanceof Float32Array ? [sound] : sound;
  const sampleCount = channels[0]?.length ?? 0;
  if (channels.length === 0 || channels.some((c) => c.length !== sampleCount))
    throw new PulgarError(
      "bad-shape",
      `${channels.length} channels of ${channels.map((c) => c.length).join(", ")} samples; want one or more of one length`,
      "Pad the shorter channels with silence.",
    );
  const bits = options.bits ?? 16;
  const isFloat = bits === 32;
  const frameLen = (channels.length * bits) / 8;
  const dataLen = sampleCount * frameLen;
  // A float file has the longer format chunk and a fact chunk, as the specification asks of every format but plain PCM.
  const formatLen = isFloat ? 18 : 16;
  const headLen = 12 + 8 + formatLen + (isFloat ? 12 : 0) + 8;
  const bytes = new Uint8Array(headLen + dataLen + (dataLen % 2));
  const view = new DataView(bytes.buffer);
  let at = 0;
  const tag = (text: string): void => {
    for (const char of text) view.setUint8(at++, char.charCodeAt(0));
  };
  const u32 = (x: number): void => {
    view.setUint32(at, x, true);
    at += 4;
  };
  const u16 = (x: number): void => {
    view.setUint16(at, x, true);
    at += 2;
  };
  tag("RIFF");
  u32(bytes.length - 8);
  tag("WAVEfmt ");
  u32(formatLen);
  u16(isFloat ? 3 : 1);
  u16(channels.length);
  u32(sampleRateHz);
  u32(sampleRateHz * frameLen);
  u16(frameLen);
  u16(bits);
  if (isFloat) {
    u16(0);
    tag("fact");
    u32(4);
    u32(sampleCount);
  }
  tag("data");
  u32(dataLen);
  for (let idx = 0; idx < sampleCount; idx++) {
    for (const channel of channels) {
      const x = channel[idx] ?? 0;
      if (isFloat) view.setFloat32(at, x, true);
      else if (bits === 16) view.setInt16(at, clamp(Math.round(x * 32768), -32768, 32767), true);
      else {
        const whole = clamp(Math.round(x * 8388608), -8388608, 8388607);
        view.setUint16(at, whole & 0xffff, true);
        view.setInt8(at + 2, whole >> 16);
      }
      at += bits / 8;
    }
  }
  return bytes;
}
