import { expect, test } from "vitest";
import type { Grid } from "../../src/grid/grid.js";
import { placeNotes } from "../../src/grid/place.js";
import type { PlayedNote } from "../../src/notes/played-note.js";

// Two bars of 4/4 at 60, worked by hand; 24 ticks a beat.
const grid = (more: Partial<Grid> = {}): Grid => ({
  beatSec: Array.from({ length: 9 }, (_, k) => 1 + k),
  meter: { beats: 4, unit: 4 },
  tempoBpm: 60,
  tempoFrom: "user",
  feel: "straight",
  swingRatio: 1,
  barCount: 2,
  pickupBeats: 0,
  countInBeats: 0,
  confidence: 1,
  readings: [],
  ...more,
});
const note = (beat: number, midi: number, beats = 1): PlayedNote => ({
  onsetSec: 1 + beat,
  offsetSec: 1 + beat + beats,
  midi,
  confidence: 0.9,
  velocity: 0.5,
});
const ticks = (notes: PlayedNote[], more: Partial<Grid> = {}): string =>
  placeNotes(notes, grid(more))
    .map((n) => `${n.bar}:${n.tick}`)
    .join(" ");

test("place: eighths, triplets and sixteenths side by side", () => {
  const beats = [0, 0.5, 1, 1 + 1 / 3, 1 + 2 / 3, 2, 2.25, 2.5, 2.75, 3, 4];
  expect(ticks(beats.map((b, k) => note(b, 50 + k)))).toBe(
    "1:0 1:12 1:24 1:32 1:40 1:48 1:54 1:60 1:66 1:72 2:0",
  );
});

test("place: a note a little early stands on the beat it opens, before the bar line too", () =>
  expect(ticks([note(0, 45), note(0.99, 60), note(3.98, 45)])).toBe("1:0 1:24 2:0"));

test("place: swing is written as straight eighths", () =>
  expect(
    ticks(
      [0, 2 / 3, 1, 5 / 3, 2, 8 / 3].map((b) => note(b, 60)),
      { feel: "swing", swingRatio: 2 },
    ),
  ).toBe("1:0 1:12 1:24 1:36 1:48 1:60"));

test("place: a pick-up is bar 0, and what comes before it is left out", () =>
  expect(ticks([note(-2.5, 70), note(-1, 60), note(-0.5, 62), note(0, 45)], { pickupBeats: 1 })).toBe(
    "0:0 0:12 1:0",
  ));

test("place: a note is written to the next of its pitch, to where it ends, and never over the bar line", () => {
  const placed = placeNotes(
    [note(0, 45, 8), note(1, 60, 1), note(1, 64, 6), note(2, 60, 1), note(3, 64, 3)],
    grid(),
  );
  const length = (midi: number, tick: number): number | undefined =>
    placed.find((n) => n.midi === midi && n.tick === tick)?.lengthTicks;
  expect(length(45, 0)).toBe(96);
  expect(length(60, 24)).toBe(24);
  expect(length(64, 24)).toBe(48);
  expect(length(64, 72)).toBe(24);
});

test("place: with a known string a note ends where that string is plucked again", () => {
  const shares = [0.9, 0.02, 0.02, 0.02, 0.02, 0.02];
  const placed = placeNotes(
    [
      { ...note(0, 64, 4), stringShares: shares },
      { ...note(2, 67, 2), stringShares: shares },
    ],
    grid(),
  );
  expect(placed[0]?.lengthTicks).toBe(48);
});

test("place: a rolled and a strummed chord stand whole on their step, late strings and all", () => {
  const roll = [45, 55, 60, 64].map((midi, k) => ({ ...note(1, midi), onsetSec: 2 + 0.03 * k })); // p i m a, 30 ms apart
  const strum = [40, 45, 50, 55, 59, 64].map((midi, k) => ({
    ...note(2.5, midi),
    onsetSec: 3.5 + 0.015 * k,
  }));
  expect(ticks([note(0, 40), ...roll, ...strum, note(3, 40)])).toBe(
    ["1:0", ...roll.map(() => "1:24"), ...strum.map(() => "1:60"), "1:72"].join(" "),
  );
});

test("place: a grace note stands with its main note and is told, beside sixteenths that are none", () => {
  const grace = { ...note(1, 62), onsetSec: 1.95 };
  const sixteenths = [2, 2.25, 2.5, 2.75].map((beat, k) => note(beat, 60 + 2 * k));
  const placed = placeNotes([note(0, 45), grace, note(1, 64), ...sixteenths, note(3, 45)], grid());
  expect(placed.map((n) => `${n.tick}${n.grace === true ? "g" : ""}`).join(" ")).toBe(
    "0 24g 24 48 54 60 66 72",
  );
});
