import { expect, test } from "vitest";
import type { PlacedNote } from "../../src/grid/grid.js";
import { eventsOf, placesOf, searchNotes } from "../../src/hands/search-events.js";

const GUITAR = { openMidi: [40, 45, 50, 55, 59, 64], capo: 0, highestFret: 19, scaleLengthMm: 650 };
const note = (tick: number, midi: number, more: Partial<PlacedNote> = {}): PlacedNote => ({
  onsetSec: tick / 48,
  offsetSec: tick / 48 + 0.5,
  midi,
  confidence: 1,
  velocity: 0.5,
  bar: 1,
  tick,
  lengthTicks: 24,
  ...more,
});
const events = (notes: PlacedNote[], grace = new Set<number>()) => {
  const sought = searchNotes(notes, GUITAR, []);
  return { sought, list: eventsOf(sought, grace).map((e) => e.noteIdx) };
};

test("search-events: E4 lies in five places of a guitar with 19 frets (by hand)", () => {
  expect(placesOf(64, GUITAR)).toEqual([
    { string: 1, fret: 0 },
    { string: 2, fret: 5 },
    { string: 3, fret: 9 },
    { string: 4, fret: 14 },
    { string: 5, fret: 19 },
  ]);
  expect(placesOf(64, { ...GUITAR, capo: 2 }).map((p) => p.fret)).toEqual([3, 7, 12, 17]);
});

test("search-events: one grid place is one event, lowest pitch first, whatever the order", () => {
  expect(events([note(0, 64), note(24, 50), note(0, 48)]).list).toEqual([[2, 0], [1]]);
});

test("search-events: a grace note stands before the chord it leads to", () => {
  const notes = [note(24, 64), note(24, 62, { grace: true, onsetSec: 0.48 }), note(24, 48)];
  expect(events(notes, new Set([1])).list).toEqual([[1], [2, 0]]);
});

test("search-events: two voices that share a pitch share a string; alike in length they are a unison of two", () => {
  const shared = events([note(0, 57), note(0, 57, { lengthTicks: 96 })]);
  expect(shared.list).toEqual([[0]]);
  expect(shared.sought[1]?.twinOf).toBe(0);
  expect(events([note(0, 57), note(0, 57)]).list).toEqual([[0, 1]]);
});

test("search-events: a note a quarter of a second and more from its grid place is an event of its own", () => {
  expect(events([note(0, 48), note(0, 64, { onsetSec: 0.3 })]).list.length).toBe(2);
});
