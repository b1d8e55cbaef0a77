/** Pictures of the sound: peaks of the waveform, and a spectrum on a pitch axis, tile by tile so that a long take opens at once.
 * Low pitches are seen through a long window (they lie close together), high ones through a short one (their attacks are sharp). */
import FFT from "fft.js";
import { resample } from "../../src/dsp/resample.js";
import { PICTURE } from "./view-types.js";

/** Largest magnitude in each hundredth of a second, 0…255. */
export function wavePeaks(samples: Float32Array, sampleRateHz: number): Uint8Array {
  const step = sampleRateHz / PICTURE.peaksPerSec;
  const peaks = new Uint8Array(Math.ceil(samples.length / step));
  let loudest = 1e-6;
  for (let idx = 0; idx < samples.length; idx++) loudest = Math.max(loudest, Math.abs(samples[idx] ?? 0));
  for (let k = 0; k < peaks.length; k++) {
    let peak = 0;
    const end = Math.min(samples.length, Math.round((k + 1) * step));
    for (let idx = Math.round(k * step); idx < end; idx++) peak = Math.max(peak, Math.abs(samples[idx] ?? 0));
    peaks[k] = Math.round((255 * peak) / loudest);
  }
  return peaks;
}

export const PICTURE_ROWS = (PICTURE.highestMidi - PICTURE.lowestMidi + 1) * PICTURE.rowsPerSemitone;

const RATE_HZ = 6000; // twice over the highest row, so that windows are short to transform
const LONG_SEC = 0.37; // 2.7 Hz a bin: the semitone at low E is 5 Hz
const SHORT_SEC = 0.09; // 11 Hz a bin: the semitone at middle C is 15 Hz
const CROSS_MIDI = 58; // between the two windows, faded over an octave
const MARGIN_SEC = 0.25; // sound around a tile: half the long window and the resampler's own reach
const FLOOR_DB = -80; // quieter than the room of any home recording

/** Draws tiles of one recording. @returns tile(k): bytes, shape (columns, PICTURE_ROWS), columns of tileSec */
export function makePicture(samples: Float32Array, sampleRateHz: number): (tileIdx: number) => Uint8Array {
  const powerOfTwo = (sec: number): number => 2 ** Math.round(Math.log2(sec * RATE_HZ));
  const windows = [powerOfTwo(LONG_SEC), powerOfTwo(SHORT_SEC)].map((len) => {
    const fft = new FFT(len);
    return {
      len,
      fft,
      hann: Float64Array.from({ length: len }, (_, n) => 0.5 - 0.5 * Math.cos((2 * Math.PI * n) / len)),
      frame: new Float64Array(len),
      bins: fft.createComplexArray(),
      scale: 16 / len ** 2, // a full-scale sine reads 0 dB
    };
  });
  const rows = Array.from({ length: PICTURE_ROWS }, (_, row) => {
    const midi = PICTURE.lowestMidi + row / PICTURE.rowsPerSemitone;
    const freqHz = 440 * 2 ** ((midi - 69) / 12);
    return { freqHz, longShare: Math.max(0, Math.min(1, 0.5 - (midi - CROSS_MIDI) / 12)) };
  });
  const columns = PICTURE.tileSec * PICTURE.columnsPerSec;
  return (tileIdx) => {
    const tile = new Uint8Array(columns * PICTURE_ROWS);
    const from = Math.round((tileIdx * PICTURE.tileSec - MARGIN_SEC) * sampleRateHz); // before 0 in the first tile
    const to = Math.round(((tileIdx + 1) * PICTURE.tileSec + MARGIN_SEC) * sampleRateHz);
    const around = resample(samples.slice(Math.max(0, from), to), sampleRateHz, RATE_HZ);
    const startSec = Math.max(0, from) / sampleRateHz;
    for (let column = 0; column < columns; column++) {
      const sec = (tileIdx * columns + column) / PICTURE.columnsPerSec;
      if (sec * sampleRateHz >= samples.length) break;
      const centre = Math.round((sec - startSec) * RATE_HZ);
      for (const { len, fft, hann, frame, bins } of windows) {
        const at = centre - (len >> 1);
        for (let k = 0; k < len; k++) frame[k] = (around[at + k] ?? 0) * (hann[k] ?? 0);
        fft.realTransform(bins, frame);
      }
      for (const [row, { freqHz, longShare }] of rows.entries()) {
        let power = 0;
        for (const [k, w] of windows.entries()) {
          const share = k === 0 ? longShare : 1 - longShare;
          if (share > 0) power += share * w.scale * powerAt(w.bins, (freqHz * w.len) / RATE_HZ, w.len);
        }
        const level = Math.round((255 * (10 * Math.log10(power + 1e-12) - FLOOR_DB)) / -FLOOR_DB);
        tile[column * PICTURE_ROWS + row] = Math.max(0, Math.min(255, level));
      }
    }
    return tile;
  };
}

/** Power at a place between two bins of an interleaved spectrum; 0 above half the rate. */
function powerAt(bins: readonly number[], bin: number, len: number): number {
  const low = Math.floor(bin);
  if (low + 1 > len / 2) return 0;
  const part = bin - low;
  const power = (k: number): number => (bins[2 * k] ?? 0) ** 2 + (bins[2 * k + 1] ?? 0) ** 2;
  return (1 - part) * power(low) + part * power(low + 1);
}

/** Mono 16-bit WAV, for a browser that cannot play the recording's own format. */
export function wavOf(samples: Float32Array, sampleRateHz: number): Uint8Array {
  const bytes = new Uint8Array(44 + samples.length * 2);
  const view = new DataView(bytes.buffer);
  const text = (at: number, word: string): void => {
    for (let k = 0; k < word.length; k++) view.setUint8(at + k, word.charCodeAt(k));
  };
  text(0, "RIFF");
  view.setUint32(4, 36 + samples.length * 2, true);
  text(8, "WAVEfmt ");
  view.setUint32(16, 16, true);
  view.setUint16(20, 1, true); // PCM
  view.setUint16(22, 1, true);
  view.setUint32(24, sampleRateHz, true);
  view.setUint32(28, sampleRateHz * 2, true);
  view.setUint16(32, 2, true);
  view.setUint16(34, 16, true);
  text(36, "data");
  view.setUint32(40, samples.length * 2, true);
  for (let k = 0; k < samples.length; k++)
    view.setInt16(44 + 2 * k, Math.round(Math.max(-1, Math.min(1, samples[k] ?? 0)) * 32767), true);
  return bytes;
}
