import { expect, test } from "vitest";
import type { Take } from "../../src/audio/take.js";
import { ATTACK_DEFAULTS, findAttacks } from "../../src/grid/attacks.js";
import { testNeeding } from "../helpers/needs.js";
import { hasBank } from "../helpers/takes/bank.js";
import { studyNamed } from "../helpers/takes/studies.js";
import { type RenderedTake, renderTake } from "../helpers/takes/take.js";

// Sounds worked out by formula: what rings is a decaying tone, what does not is a burst that is gone in 30 ms.
const RATE = 22050;
function take(events: readonly { sec: number; hz: number; decaySec: number }[], lengthSec: number): Take {
  const samples = new Float32Array(Math.round(lengthSec * RATE));
  for (const { sec, hz, decaySec } of events)
    for (let k = Math.round(sec * RATE); k < samples.length; k++) {
      const t = k / RATE - sec;
      samples[k] = (samples[k] as number) + 0.5 * Math.exp(-t / decaySec) * Math.sin(2 * Math.PI * hz * t);
    }
  return { samples, sampleRateHz: RATE } as Take;
}

test("attacks: tones ring, ticks do not, each within two hops of its time", () => {
  const truth = [
    { sec: 0.5, hz: 1800, decaySec: 0.01 },
    { sec: 1.1, hz: 1800, decaySec: 0.01 },
    { sec: 1.7, hz: 220, decaySec: 1.2 },
    { sec: 2.6, hz: 330, decaySec: 1.2 },
  ];
  const found = findAttacks(take(truth, 4));
  expect(found.map((a) => a.pitched)).toEqual([false, false, true, true]);
  for (const [k, a] of found.entries())
    expect(Math.abs(a.onsetSec - (truth[k]?.sec ?? 9))).toBeLessThanOrEqual(
      2 * ATTACK_DEFAULTS.hopSec + 1e-9,
    );
});

test("attacks: a quieter attack is weaker, and silence has none", () => {
  expect(findAttacks(take([], 2))).toEqual([]);
  const loud = take([{ sec: 0.5, hz: 220, decaySec: 0.4 }], 4);
  const soft = take([{ sec: 2.5, hz: 220, decaySec: 0.4 }], 4);
  const samples = loud.samples.map((x, k) => x + 0.25 * (soft.samples[k] as number));
  const [first, second] = findAttacks({ samples, sampleRateHz: RATE } as Take);
  expect(first?.strength).toBeCloseTo(1, 1);
  expect(second?.strength).toBeCloseTo(0.25, 1); // a quarter of the amplitude
});

for (const countIn of ["clicks", "taps", "voice", "muted"] as const)
  testNeeding(
    hasBank("steel"),
    "the steel bank",
    `attacks: every count of ${countIn} is heard, and as no note`,
    async () => {
      const rendered: RenderedTake = await renderTake(studyNamed("low-tide"), {
        bank: "steel",
        countIn,
        seed: 4,
      });
      const unpitched = findAttacks(rendered.take).filter((a) => !a.pitched);
      expect(rendered.performance.countIn.length).toBe(4);
      // A spoken word begins softly: it is heard where its vowel is.
      const withinSec = countIn === "voice" ? 0.12 : 0.06;
      for (const { atSec } of rendered.performance.countIn)
        expect(unpitched.some((a) => Math.abs(a.onsetSec - atSec) < withinSec)).toBe(true);
    },
  );
