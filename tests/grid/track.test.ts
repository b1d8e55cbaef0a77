import { expect, test } from "vitest";
import { beatModel } from "../../src/grid/beat-model.js";
import { gatherEvents, type HitEvent } from "../../src/grid/events.js";
import { trackBeats } from "../../src/grid/track.js";
import { beatFMeasure } from "../helpers/score/beats.js";
import { makeRng } from "../helpers/takes/rng.js";

// Beats by formula, hit on the steps given as shares of a beat, with 8 ms of jitter. Judged by mir_eval's beat F (helpers/score).
function played(beatSec: readonly number[], shares: readonly number[]): HitEvent[] {
  const rng = makeRng("track");
  return gatherEvents(
    beatSec.slice(0, -1).flatMap((from, k) =>
      shares.map((share, j) => ({
        onsetSec: from + share * ((beatSec[k + 1] as number) - from) + 0.008 * rng.gauss(),
        offsetSec: from + 2,
        midi: 48 + 5 * j + (k % 3),
        confidence: 0.9,
        velocity: 0.6,
      })),
    ),
  );
}
const beatsOf = (count: number, length: (k: number) => number): number[] => {
  const out = [1];
  for (let k = 0; k < count; k++) out.push((out[k] as number) + length(k));
  return out;
};

for (const [title, length, shares, steps] of [
  ["a steady beat in eighths", () => 0.6, [0, 0.5], "straight"],
  ["a drift of 5 %", (k: number) => 0.6 * (1 + 0.05 * Math.sin(k / 8)), [0, 0.5], "straight"],
  [
    "a slow-down by a tenth at each fourth bar",
    (k: number) => (k % 16 > 12 ? 0.66 : 0.6),
    [0, 0.5],
    "straight",
  ],
  ["triplets", () => 0.8, [0, 1 / 3, 2 / 3], "straight"],
  ["swing", () => 0.6, [0, 2 / 3], "full"],
] as const)
  test(`track: ${title}`, () => {
    const truth = beatsOf(40, length);
    const events = played(truth, shares);
    const { beatSec, fit } = trackBeats(events, beatModel(shares.length === 3 ? 0.8 : 0.6, steps), {
      starts: [{ sec: events[0]?.sec ?? 0, cost: 0 }],
      startSlackSec: 0.025,
    });
    expect(beatFMeasure(truth, beatSec)).toBeGreaterThanOrEqual(0.99);
    expect(fit).toBeGreaterThan(0);
  });

test("track: events by chance fit worse than a beat", () => {
  const rng = makeRng("no beat");
  let sec = 1;
  const notes = Array.from({ length: 80 }, () => {
    sec += 0.12 + 0.4 * rng.next();
    return { onsetSec: sec, offsetSec: sec + 1, midi: 60, confidence: 0.9, velocity: 0.6 };
  });
  const model = beatModel(0.6, "straight");
  const options = { starts: [{ sec: 1, cost: 0 }], startSlackSec: 0.025 };
  const chance = trackBeats(gatherEvents(notes), model, options).fit;
  expect(chance).toBeLessThan(
    trackBeats(
      played(
        beatsOf(40, () => 0.6),
        [0, 0.5],
      ),
      model,
      options,
    ).fit - 1,
  );
});

test("track: one beat drawn out to 1.4 of its length is followed, and named with the length it would have had", () => {
  const truth = beatsOf(40, (k) => (k === 19 ? 0.84 : 0.6));
  const events = played(truth, [0, 0.25, 0.5, 0.75]);
  const { beatSec, drawn } = trackBeats(events, beatModel(0.6, "straight"), {
    starts: [{ sec: events[0]?.sec ?? 0, cost: 0 }],
    startSlackSec: 0.025,
  });
  expect(beatFMeasure(truth, beatSec)).toBeGreaterThanOrEqual(0.99);
  expect(drawn.map((d) => d.beat)).toEqual([19]);
  expect(drawn[0]?.usualSec).toBeCloseTo(0.6, 1);
});

test("track: the thumb keeps the beat where the chords come between", () => {
  // Basses on the beats, every second left out, three-note chords between all: by hand. The price of an off-beat start is 6 in grid/beats.ts.
  const truth = beatsOf(40, () => 0.6);
  const chord = [60, 64, 67];
  const notes = truth
    .slice(0, -1)
    .flatMap((sec, k) => [
      ...(k % 2 === 0 ? [{ onsetSec: sec, midi: 43 }] : []),
      ...chord.map((midi) => ({ onsetSec: sec + 0.3, midi })),
    ]);
  const events = gatherEvents(
    notes.map((n) => ({ ...n, offsetSec: n.onsetSec + 0.5, confidence: 0.9, velocity: 0.6 })),
  );
  const { beatSec } = trackBeats(events, beatModel(0.6, "straight"), {
    starts: [
      { sec: 1, cost: 1 },
      { sec: 0.7, cost: 0 },
    ],
    startSlackSec: 0.025,
  });
  expect(beatFMeasure(truth, beatSec)).toBeGreaterThanOrEqual(0.99);
});
