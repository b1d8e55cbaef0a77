// Truth: by hand, on music of one line whose beats and bars are written out.
import { expect, test } from "vitest";
import { gatherEvents } from "../../src/grid/events.js";
import {
  basses,
  beatFeatures,
  comingBack,
  paceFeatures,
  phraseFeatures,
  stepContents,
} from "../../src/grid/tempo-features.js";

/** One note a step, by MIDI number; 0 is a rest. */
function stepsOf(midis: readonly number[]) {
  const notes = midis.flatMap((midi, k) =>
    midi === 0 ? [] : [{ onsetSec: 0.25 * k, offsetSec: 0.25 * k + 0.2, midi, confidence: 1, velocity: 0.6 }],
  );
  const events = gatherEvents(notes);
  return stepContents(
    events,
    notes,
    events.map((e) => Math.round(e.sec / 0.25)),
  );
}

const bar = (root: number): number[] => [0, 7, 12, 16, 12, 7].map((up) => root + up);
// Four bars of six steps over four roots, and again.
const phrase = [45, 41, 48, 43].flatMap(bar);
const twice = stepsOf([...phrase, ...phrase]);

test("tempo features: music comes back after 24 steps", () => {
  const back = comingBack(twice);
  expect(back.backSteps).toBe(24);
  expect(back.alike[24]).toBe(1);
});

test.each([
  ["bars of six steps make four", 6, { phrase: 1 }],
  ["bars of twelve steps make two", 12, { phrase: 0.5 }],
  ["bars of eight steps make three", 8, { phrase: 0 }],
  ["bars of sixteen steps do not fit", 16, { brokenPhrase: 1 }],
])("tempo features: %s of what comes back", (_what, barSteps, want) => {
  expect(phraseFeatures(twice, comingBack(twice), barSteps)).toEqual({ ends: 0, ...want });
});

test("tempo features: music that never comes back has no phrase", () => {
  const scale = stepsOf(Array.from({ length: 40 }, (_, k) => 40 + k));
  const back = comingBack(scale);
  expect(back.backSteps).toBeUndefined();
  expect(phraseFeatures(scale, back, 4)).toEqual({ ends: 0 });
});

test("tempo features: a figure of three notes comes again after three steps, not after two", () => {
  const steps = stepsOf(Array.from({ length: 12 }, () => [45, 52, 57]).flat());
  const bass = basses(steps);
  const back = comingBack(steps);
  const three = beatFeatures(steps, bass, back, 3);
  const two = beatFeatures(steps, bass, back, 2);
  expect(three.beatPitches ?? 0).toBeGreaterThan(0.4);
  expect(two.beatPitches ?? 0).toBeLessThan(0);
  expect(two.beatContour ?? 0).toBeLessThan(three.beatContour ?? 0);
});

test.each([
  [92, 4, 0, 0],
  [30, 4, Math.log(2), 0], // half of 60
  [240, 4, 0, Math.log(2)], // twice 120
])("tempo features: quarters at %d are so slow, so quick", (bpm, unit, slow, quick) => {
  const pace = paceFeatures(bpm, unit, 2);
  expect(pace.slow).toBeCloseTo(slow, 6);
  expect(pace.quick).toBeCloseTo(quick, 6);
  expect(pace.quarterOf2).toBe(1);
});
