import { expect, test } from "vitest";
import { openStretcher } from "../../cli/stretcher.js";
import { addPluck } from "../../src/play/pluck.js";
import { stretch } from "../../src/play/stretch.js";
import { centsOff, onsetSec, sameSamples } from "./tone.js";

const RATE = 44100;

function plucks(freqHz: number): Float32Array {
  const out = new Float32Array(RATE * 7);
  for (let k = 0; k < 6; k++)
    addPluck(
      out,
      RATE,
      {
        freqHz,
        startIdx: k * RATE + RATE / 2,
        holdSec: 0.9,
        loudness: 0.8,
        brightness: 0.6,
        pluckShare: 0.16,
        t60Sec: 4,
        seed: k + 1,
      },
      new Float32Array(4000),
    );
  return out;
}

// 67 and 68 stand at both sides of the change of block, 49 and 25 where a second and a third pass begin.
for (const percent of [25, 26, 30, 40, 49, 50, 60, 65, 67, 68, 75, 80, 90, 110])
  for (const [name, freqHz] of [
    ["low D", 73.416],
    ["low E", 82.407],
    ["A3", 220],
    ["high E", 329.628],
  ] as const)
    test(`stretch: ${name} at ${percent} % keeps its pitch within 3 cents and its onsets within 10 ms`, async () => {
      const open = await openStretcher();
      const dry = plucks(freqHz);
      const [slow] = stretch([dry], RATE, percent / 100, open) as [Float32Array];
      expect(slow.length).toBe(Math.round((dry.length * 100) / percent));
      for (let k = 0; k < 6; k++) {
        const wantSec = (onsetSec(dry, RATE, k + 0.5) * 100) / percent;
        expect(Math.abs(onsetSec(slow, RATE, wantSec) - wantSec) * 1000, `onset ${k}`).toBeLessThan(10);
        const from = ((k + 0.8) * 100) / percent;
        expect(Math.abs(centsOff(slow, RATE, freqHz, from, from + 0.4)), `pitch ${k}`).toBeLessThan(3);
      }
    });

test("stretch: two channels stay together, a sound at the very start is kept, and 100 % is the input itself", async () => {
  const open = await openStretcher();
  const dry = new Float32Array(RATE * 2);
  addPluck(
    dry,
    RATE,
    {
      freqHz: 196,
      startIdx: 0,
      holdSec: 1.5,
      loudness: 0.8,
      brightness: 0.6,
      pluckShare: 0.16,
      t60Sec: 4,
      seed: 1,
    },
    new Float32Array(4000),
  );
  const [left, right] = stretch([dry, dry], RATE, 0.5, open) as [Float32Array, Float32Array];
  let apart = 0;
  let power = 0;
  for (let k = 0; k < left.length; k++) {
    apart += ((left[k] ?? 0) - (right[k] ?? 0)) ** 2;
    power += (left[k] ?? 0) ** 2;
  }
  expect(10 * Math.log10(apart / power)).toBeLessThan(-60);
  const energy = (x: Float32Array, from: number, until: number): number =>
    x.subarray(from * RATE, until * RATE).reduce((s, v) => s + v * v, 0) / (until - from);
  expect(energy(left, 0.02, 0.4)).toBeGreaterThan(energy(dry, 0.01, 0.2) * 0.5);
  expect(sameSamples(stretch([dry], RATE, 1, open)[0] as Float32Array, dry)).toBe(true);
});
