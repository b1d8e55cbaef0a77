// Resampling against the sine that it should be (analytic reference), at every rate that is accepted.
import { expect, test } from "vitest";
import { filterAndDecimate, makeResampler, resample } from "../../src/dsp/resample.js";
import { sine } from "../helpers/wav-bytes.js";

const TO_HZ = 22050;

/** Signal to error in dB against the same sine made at the new rate, the ends left out. */
function snrDb(fromHz: number, freqHz: number): number {
  const out = resample(Float32Array.from(sine(freqHz, 0.5, fromHz, 0.5)), fromHz, TO_HZ);
  let signal = 0;
  let error = 0;
  for (let i = 600; i < out.length - 600; i++) {
    const want = 0.5 * Math.sin((2 * Math.PI * freqHz * i) / TO_HZ);
    signal += want * want;
    error += ((out[i] ?? 0) - want) ** 2;
  }
  return 10 * Math.log10(signal / error);
}

for (const fromHz of [8000, 11025, 16000, 24000, 32000, 44100, 48000, 88200, 96000, 192000])
  for (const freqHz of [82.41, 1000, 3000])
    test(`resample: ${fromHz} Hz keeps a sine of ${freqHz} Hz at 80 dB or better`, () => {
      expect(snrDb(fromHz, freqHz)).toBeGreaterThan(80);
    });

test("resample: an odd rate is rounded, at 60 dB or better", () => {
  expect(snrDb(44099, 1000)).toBeGreaterThan(60);
});

test("resample: what lies over the new Nyquist is gone by 80 dB", () => {
  const out = resample(Float32Array.from(sine(15000, 0.5, 48000, 0.5)), 48000, TO_HZ);
  const rms = Math.sqrt(out.subarray(600, -600).reduce((a, x) => a + x * x, 0) / (out.length - 1200));
  expect(20 * Math.log10(rms / (0.5 / Math.SQRT2))).toBeLessThan(-80);
});

test("resample: the length is the old one times the ratio, rounded up", () => {
  expect(resample(new Float32Array(44100), 44100, TO_HZ).length).toBe(22050);
  expect(resample(new Float32Array(7), 48000, TO_HZ).length).toBe(4); // 7 · 0.459 = 3.2
});

test("resample: decimation picks filtered samples by hand", () => {
  const out = filterAndDecimate(
    Float32Array.from([1, 2, 3, 4, 5, 6]),
    Float64Array.from([0.25, 0.5, 0.25]),
    2,
  );
  expect([...out]).toEqual([1, 3, 5]); // (0 + 2·1 + 2)/4, (2 + 6 + 4)/4, (4 + 10 + 6)/4
});

for (const fromHz of [8000, 44100, 48000, 44099])
  test(`resample: pieces of any size give what the whole gives, from ${fromHz} Hz`, () => {
    const whole = Float32Array.from({ length: 150_001 }, (_, k) => Math.sin(k * 0.37) * Math.cos(k * 0.011));
    const want = resample(whole, fromHz, TO_HZ);
    for (const lens of [[1, 7, 4096], [100_000], [13]]) {
      const resampler = makeResampler(fromHz, TO_HZ);
      const got: number[] = [];
      for (let idx = 0, k = 0; idx < whole.length; k++) {
        const len = (lens[k % lens.length] ?? 1) * (k > 200 ? 50 : 1);
        for (const x of resampler.push(whole.subarray(idx, idx + len))) got.push(x);
        idx += len;
      }
      for (const x of resampler.end()) got.push(x);
      expect(got.length).toBe(want.length);
      expect(got.every((x, k) => x === want[k])).toBe(true);
    }
  });
