/** WAV bytes written field by field from the RIFF/WAVE layout (Microsoft & IBM 1991; RFC 2361), apart from our own writer,
 * so that reading can be tested without it. `bits` 8, 16, 24, 32 are integers, -32 is float. */
export function riffBytes(
  channels: readonly (readonly number[])[],
  sampleRateHz: number,
  bits: 0 | 8 | 16 | 24 | 32 | -32,
  declaredLen?: number,
): Uint8Array {
  const byteLen = Math.abs(bits) / 8;
  const frameLen = channels[0]?.length ?? 0;
  const dataLen = frameLen * channels.length * byteLen;
  const out = new DataView(new ArrayBuffer(44 + dataLen));
  const text = (idx: number, name: string): void => {
    for (let k = 0; k < 4; k++) out.setUint8(idx + k, name.charCodeAt(k));
  };
  text(0, "RIFF");
  out.setUint32(4, 36 + dataLen, true);
  text(8, "WAVE");
  text(12, "fmt ");
  out.setUint32(16, 16, true);
  out.setUint16(20, bits < 0 ? 3 : 1, true);
  out.setUint16(22, channels.length, true);
  out.setUint32(24, sampleRateHz, true);
  out.setUint32(28, sampleRateHz * channels.length * byteLen, true);
  out.setUint16(32, channels.length * byteLen, true);
  out.setUint16(34, Math.abs(bits), true);
  text(36, "data");
  out.setUint32(40, declaredLen ?? dataLen, true);
  let idx = 44;
  for (let i = 0; i < frameLen; i++)
    for (const channel of channels) {
      const x = channel[i] ?? 0;
      if (bits === 8) out.setUint8(idx, Math.round(x * 127) + 128);
      if (bits === 16) out.setInt16(idx, Math.round(x * 32767), true);
      if (bits === 24) {
        const v = Math.round(x * 8388607);
        out.setUint16(idx, v & 0xffff, true);
        out.setInt8(idx + 2, v >> 16);
      }
      if (bits === 32) out.setInt32(idx, Math.round(x * 2147483647), true);
      if (bits === -32) out.setFloat32(idx, x, true);
      idx += byteLen;
    }
  return new Uint8Array(out.buffer);
}

/** A sine, −1…1. */
export const sine = (freqHz: number, sec: number, sampleRateHz: number, level = 0.5): number[] =>
  Array.from(
    { length: Math.round(sec * sampleRateHz) },
    (_, i) => level * Math.sin((2 * Math.PI * freqHz * i) / sampleRateHz),
  );
