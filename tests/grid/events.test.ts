import { expect, test } from "vitest";
import { gatherEvents } from "../../src/grid/events.js";
import type { PlayedNote } from "../../src/notes/played-note.js";

// Worked by hand.
const note = (onsetSec: number, midi: number): PlayedNote => ({
  onsetSec,
  offsetSec: onsetSec + 0.5,
  midi,
  confidence: 0.9,
  velocity: 0.5,
});

test("events: a pinch is one event at its mean, its lowest note told", () => {
  const events = gatherEvents([note(1, 45), note(1.01, 64), note(1.5, 60)]);
  expect(events.map((e) => e.noteIdxs)).toEqual([[0, 1], [2]]);
  expect(events[0]?.sec).toBeCloseTo(1.005, 6);
  expect(events[0]?.lowMidi).toBe(45);
});

test("events: a rolled chord is one event and stands at its first note", () => {
  const events = gatherEvents([0, 1, 2, 3].map((k) => note(2 + 0.03 * k, 45 + 5 * k)));
  expect(events).toHaveLength(1);
  expect(events[0]?.sec).toBeCloseTo(2, 6);
});

test("events: a grace note leans on its main note; sixteenths stay apart", () => {
  expect(gatherEvents([note(1, 62), note(1.05, 64)], 0.12)[0]?.graceIdxs).toEqual([0]);
  expect(gatherEvents([0, 1, 2, 3].map((k) => note(k * 0.1, 60 + k)))).toHaveLength(4);
});

test("events: a pitch comes once in an event", () =>
  expect(gatherEvents([note(1, 60), note(1.02, 60)])).toHaveLength(2));
