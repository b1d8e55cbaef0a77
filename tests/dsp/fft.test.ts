// FFT against the definition of the discrete Fourier transform (Oppenheim & Schafer, Discrete-Time Signal Processing, ch. 8).
import { expect, test } from "vitest";
import { hannWindow, makePowerFft } from "../../src/dsp/fft.js";

function powerByDefinition(frame: Float64Array): number[] {
  const len = frame.length;
  return Array.from({ length: len / 2 + 1 }, (_, k) => {
    let re = 0;
    let im = 0;
    for (let n = 0; n < len; n++) {
      re += (frame[n] ?? 0) * Math.cos((2 * Math.PI * k * n) / len);
      im -= (frame[n] ?? 0) * Math.sin((2 * Math.PI * k * n) / len);
    }
    return re * re + im * im;
  });
}

for (const len of [4, 64, 256])
  test(`fft: power of ${len} points equals the sum of the definition`, () => {
    const frame = Float64Array.from({ length: len }, (_, n) => Math.sin(n * 1.7) + 0.3 * Math.cos(n * n));
    const out = new Float64Array(len / 2 + 1);
    makePowerFft(len).power(frame, out);
    const want = powerByDefinition(frame);
    for (const [k, w] of want.entries()) expect(Math.abs((out[k] ?? 0) - w)).toBeLessThan(1e-8 * len * len);
  });

test("fft: a sine on a bin of 1024 points holds (len/2)² there and nothing elsewhere, by hand", () => {
  const frame = Float64Array.from({ length: 1024 }, (_, n) => Math.sin((2 * Math.PI * 20 * n) / 1024));
  const out = new Float64Array(513);
  makePowerFft(1024).power(frame, out);
  expect(out[20]).toBeCloseTo(512 ** 2, 3);
  expect(out[21] ?? 1).toBeLessThan(1e-9);
});

test("fft: the periodic Hann window sums to half its length (Harris 1978)", () => {
  expect(hannWindow(1024).reduce((a, b) => a + b, 0)).toBeCloseTo(512, 9);
  expect(hannWindow(8)[4]).toBe(1);
});
