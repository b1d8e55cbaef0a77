// Truth: by hand, on figures whose breaks are written out.
import { expect, test } from "vitest";
import { gatherEvents } from "../../src/grid/events.js";
import { pulseOf } from "../../src/grid/pulse.js";
import { breakFeatures, breaksOf, halvesOf } from "../../src/grid/tempo-breaks.js";
import { stepContents, swungShape } from "../../src/grid/tempo-features.js";

const STEP_SEC = 0.25;
const note = (step: number, midi: number) => {
  const onsetSec = 1 + STEP_SEC * step;
  return { onsetSec, offsetSec: onsetSec + 0.3, midi, confidence: 1, velocity: 0.6 };
};
type Played = ReturnType<typeof note>[];

function read(notes: Played) {
  const events = gatherEvents(notes);
  const pulse = pulseOf(events);
  return { steps: stepContents(events, notes, pulse.stepIdx), events, pulse };
}

const FIGURE = [45, 57, 60, 64, 60, 57];
const bars = (count: number, until: (bar: number) => number): Played =>
  Array.from({ length: count }, (_, bar) =>
    FIGURE.slice(0, until(bar)).map((midi, k) => note(6 * bar + k, midi)),
  ).flat();
const chordAt = (step: number): Played => [45, 57, 60, 64].map((midi) => note(step, midi));

test("tempo breaks: a figure of six that stops on a chord at its third step speaks for groups of three, at its fourth for groups of two", () => {
  for (const [at, group, other] of [
    [3, 3, 2],
    [4, 2, 3],
  ] as const) {
    const music = bars(8, (bar) => (bar % 4 === 3 ? at : 6));
    const { steps } = read(
      [...music, ...chordAt(18 + at), ...chordAt(42 + at)].sort((a, b) => a.onsetSec - b.onsetSec),
    );
    const breaks = breaksOf(steps);
    expect(breaks[0]).toBe(18 + at);
    const of = (stepsPerBeat: number): number =>
      breakFeatures(breaks, [], { stepsPerBeat, unit: 4 }).breaksOnGroup ?? 0;
    expect(of(group)).toBeGreaterThan(0.5);
    expect(of(other)).toBeLessThan(-0.5);
  }
});

test("tempo breaks: one note missed breaks nothing", () => {
  const { steps } = read(bars(8, () => 6).filter((_, k) => k !== 16));
  expect(breaksOf(steps)).toEqual([]);
});

test("tempo breaks: a bass half a step on halves a beat of three steps, and no beat of four", () => {
  const walk = [
    ...bars(8, () => 6).filter((_, k) => k % 24 < 21),
    note(21, 43),
    note(22.5, 41),
    note(45, 43),
    note(46.5, 41),
  ];
  const { events, pulse } = read(walk.sort((a, b) => a.onsetSec - b.onsetSec));
  const halves = halvesOf(events, pulse);
  expect(halves).toEqual([22, 46]);
  expect(breakFeatures([], halves, { stepsPerBeat: 3, unit: 4 }).halvesBeat).toBe(1);
  expect(breakFeatures([], halves, { stepsPerBeat: 4, unit: 4 }).halvesBeat).toBe(-1);
  expect(breakFeatures([], halves, { stepsPerBeat: 1, unit: 8 }).halvesBeat).toBe(1);
});

test("tempo features: swung eighths of two to one, and of three to two, are quick beats with a late hit", () => {
  const swung = (late: number, steps: number): Played =>
    Array.from({ length: 16 }, (_, beat) => [note(steps * beat, 45), note(steps * beat + late, 60)]).flat();
  const shape = (music: Played, steps: number, tempoBpm: number): number => {
    const events = gatherEvents(music);
    const idx = events.map((e) => Math.round((e.sec - 1) / STEP_SEC));
    return swungShape(stepContents(events, music, idx), steps, tempoBpm);
  };
  expect(shape(swung(2, 3), 3, 90)).toBe(1);
  expect(shape(swung(1, 3), 3, 90)).toBe(0);
  expect(shape(swung(3, 5), 5, 90)).toBe(1);
  expect(shape(swung(2, 5), 5, 90)).toBe(0);
  expect(shape(swung(2, 3), 3, 50)).toBe(0);
});
