// Tuning offset against sounds whose offset is known by construction: partials of equal-tempered notes (ISO 16) moved by cents.
import { expect, test } from "vitest";
import { estimateTuning } from "../../src/notes/tuning.js";

function chordSound(cents: number, inharmonicity: number): Float32Array {
  const out = new Float32Array(22050 * 6);
  const notes = [45, 52, 57, 60, 64, 55, 59, 62];
  for (const [k, midi] of notes.entries()) {
    const f0 = 440 * 2 ** ((midi - 69 + cents / 100) / 12);
    const startIdx = Math.floor((k % 8) * 0.6 * 22050);
    for (let n = 1; n <= 8; n++) {
      const freq = n * f0 * Math.sqrt(1 + inharmonicity * n * n);
      for (let i = startIdx; i < out.length; i++) {
        const t = (i - startIdx) / 22050;
        out[i] = (out[i] ?? 0) + (0.2 / n) * Math.exp(-t * (1 + 0.4 * n)) * Math.sin(2 * Math.PI * freq * t);
      }
    }
  }
  return out;
}

for (const cents of [-45, -20, -3, 0, 7, 18, 33, 48])
  test(`tuning: a guitar ${cents} cents off is measured within 3 cents`, () => {
    const found = estimateTuning(chordSound(cents, 6e-5), 22050);
    const off = ((((found - cents + 50) % 100) + 100) % 100) - 50;
    expect(Math.abs(off)).toBeLessThan(3);
  });

test("tuning: silence says nothing is off", () => {
  expect(estimateTuning(new Float32Array(22050), 22050)).toBe(0);
});
