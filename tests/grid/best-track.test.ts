import { expect, test } from "vitest";
import { beatModel, type StepShares } from "../../src/grid/beat-model.js";
import { bestTrack, feelModels } from "../../src/grid/best-track.js";
import { gatherEvents } from "../../src/grid/events.js";
import { trackBeats } from "../../src/grid/track.js";
import { makeRng } from "../helpers/takes/rng.js";

// 160 beats of 0.5 s with 8 ms of jitter, struck at the shares given: in a take so long a swung feel may be passed over. By definition the
// best track is the best of all feels, a swung one being 0.05 nats an event behind.
for (const [title, sharesOf] of [
  ["straight eighths", () => [0, 0.5]],
  ["sixteenths", () => [0, 0.25, 0.5, 0.75]],
  ["light swing", () => [0, 0.6]],
  ["full swing", () => [0, 0.667]],
  ["straight for a minute, then swung for two", (beat: number) => (beat < 50 ? [0, 0.5] : [0, 0.667])],
  ["swung in every fourth bar", (beat: number) => (beat % 16 < 12 ? [0, 0.5] : [0, 0.667])],
] as const)
  test(`best track of a long take: ${title}`, () => {
    const rng = makeRng(title);
    const events = gatherEvents(
      Array.from({ length: 160 }, (_, k) =>
        sharesOf(k).map((share, j) => ({
          onsetSec: 1 + 0.5 * (k + share) + 0.008 * rng.gauss(),
          offsetSec: 2 + 0.5 * k,
          midi: 48 + 5 * j + (k % 3),
          confidence: 0.9,
          velocity: 0.6,
        })),
      ).flat(),
    );
    const starts = [{ sec: events[0]?.sec ?? 0, cost: 0 }];
    const best = bestTrack(events, 0.5, feelModels(4, undefined), starts);
    const fits = (["straight", "light", "full"] as StepShares[]).map(
      (steps) =>
        trackBeats(events, beatModel(0.5, steps), { starts, startSlackSec: 0.025 }).fit -
        (steps === "straight" ? 0 : 0.05),
    );
    expect(best.fit).toBeCloseTo(Math.max(...fits), 9);
  });
