import { expect, test } from "vitest";
import { gatherEvents } from "../../src/grid/events.js";
import { pulseOf } from "../../src/grid/pulse.js";
import { makeRng } from "../helpers/takes/rng.js";

// The step that music was made with, by formula: steps struck by a fixed figure, with 8 ms of jitter and a tempo that drifts.
function events(figure: string, stepSec: number, bars: number, drift = 0) {
  const rng = makeRng(`pulse ${figure}`);
  const struck = Array.from({ length: bars }, () => [...figure]).flat();
  let sec = 1;
  const times = struck.map((_, k) => {
    const now = sec;
    sec += stepSec * (1 + drift * Math.sin((2 * Math.PI * k) / struck.length));
    return now;
  });
  const notes = struck.flatMap((sign, k) =>
    sign === "x"
      ? [
          {
            onsetSec: (times[k] as number) + 0.008 * rng.gauss(),
            offsetSec: 99,
            midi: 50 + (k % 7),
            confidence: 0.9,
            velocity: 0.5,
          },
        ]
      : [],
  );
  return { list: gatherEvents(notes), steps: struck.flatMap((sign, k) => (sign === "x" ? [k] : [])) };
}

for (const [title, figure, stepSec, drift] of [
  ["eighths at 90", "xxxxxxxx", 1 / 3, 0],
  ["sixteenths with rests at 70", "x.xxx.xxx.xxxxx.", 60 / 70 / 4, 0],
  ["triplets at 66", "xxxxxxxxxxxx", 60 / 66 / 3, 0],
  ["eighths that drift by 3 %", "x.xxxxxx", 0.3, 0.03],
] as const)
  test(`pulse: ${title}: the step within 1 %, every event on its own`, () => {
    const { list, steps } = events(figure, stepSec, 8, drift);
    const pulse = pulseOf(list);
    expect(Math.abs(pulse.periodSec / stepSec - 1)).toBeLessThan(0.01);
    expect(pulse.stepIdx).toEqual(steps);
    expect(pulse.clarity).toBeGreaterThan(0.8);
  });

test("pulse: events by chance have none", () => {
  const rng = makeRng("chance");
  let sec = 0;
  const notes = Array.from({ length: 80 }, () => {
    sec += 0.15 + 0.7 * rng.next();
    return { onsetSec: sec, offsetSec: sec + 1, midi: 60, confidence: 0.9, velocity: 0.5 };
  });
  expect(pulseOf(gatherEvents(notes)).clarity).toBeLessThan(0.5);
});
