import { expect, test } from "vitest";
import { nameChords } from "../../src/harmony/chords.js";
import { scoreChords } from "../helpers/score/chords.js";
import { namedStudies, studyNamed } from "../helpers/takes/studies.js";
import { studyInput } from "./study-input.js";

test("harmony chords: composed studies, majmin recall (as mir_eval) 0.955 and basses 0.97 or more on the mean", () => {
  const scores = namedStudies().map((study) => {
    const { notes, grid, chords } = studyInput(study);
    return scoreChords(chords, nameChords(notes, grid));
  });
  expect(scores.length).toBeGreaterThanOrEqual(20);
  const mean = (key: "majmin" | "bass"): number => scores.reduce((sum, s) => sum + s[key], 0) / scores.length;
  expect(mean("majmin")).toBeGreaterThanOrEqual(0.955);
  expect(mean("bass")).toBeGreaterThanOrEqual(0.97);
});

test("harmony chords: spans cover every bar, in order, on the grid's beats", () => {
  const { notes, grid } = studyInput(studyNamed("rain-on-slate"));
  const spans = nameChords(notes, grid);
  expect(new Set(spans.map((s) => s.bar)).size).toBe(grid.barCount);
  spans.forEach((span, k) => {
    expect(span.endSec).toBeGreaterThan(span.startSec);
    expect(grid.beatSec).toContain(span.startSec);
    const next = spans[k + 1];
    if (next) expect(next.startSec).toBeCloseTo(span.endSec, 9);
  });
});

test("harmony chords: bars where nothing sounds are N.C.", () => {
  const { grid } = studyInput(studyNamed("rain-on-slate"));
  const spans = nameChords([], grid);
  expect(spans).toHaveLength(grid.barCount);
  expect(spans.every((s) => s.symbol === "N.C." && s.root === "")).toBe(true);
});

test("harmony chords: a bass held from the bar before is the bass of a bar in which only the upper notes are struck (by hand)", () => {
  const { grid } = studyInput(studyNamed("mixolydian-over-a"));
  const at = (bar: number, beat: number, midi: number, beats: number) => {
    const idx = (bar - 1) * grid.meter.beats + beat - 1;
    const onsetSec = grid.beatSec[idx] as number;
    const beatSec = 60 / grid.tempoBpm;
    return {
      onsetSec,
      offsetSec: onsetSec + beats * beatSec,
      midi,
      confidence: 0.9,
      velocity: 0.7,
      bar,
      tick: (beat - 1) * 24,
      lengthTicks: beats * 24,
    };
  };
  const notes = [
    at(1, 1, 45, 8),
    at(1, 1, 57, 4),
    at(1, 2, 61, 3),
    at(1, 3, 64, 2),
    at(2, 1, 55, 4),
    at(2, 2, 59, 3),
    at(2, 3, 62, 2),
  ];
  const spans = nameChords(notes, { ...grid, barCount: 2 });
  expect(spans.map((s) => s.symbol)).toEqual(["A", "G/A"]);
});
