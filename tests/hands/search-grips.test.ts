import { expect, test } from "vitest";
import type { PlacedNote } from "../../src/grid/grid.js";
import { HAND_WEIGHTS } from "../../src/hands/cost-table.js";
import { neckMm } from "../../src/hands/reach.js";
import { eventsOf, searchNotes } from "../../src/hands/search-events.js";
import { gripMaker, MOST_GRIPS } from "../../src/hands/search-grips.js";

const GUITAR = { openMidi: [40, 45, 50, 55, 59, 64], capo: 0, highestFret: 19, scaleLengthMm: 650 };
const mm = neckMm(GUITAR);

function gripsOf(midis: readonly number[], confidences: readonly number[] = []) {
  const placed = midis.map(
    (midi, k): PlacedNote => ({
      onsetSec: 0,
      offsetSec: 1,
      midi,
      confidence: confidences[k] ?? 1,
      velocity: 0.5,
      bar: 1,
      tick: 0,
      lengthTicks: 24,
    }),
  );
  const notes = searchNotes(placed, GUITAR, []);
  const [event] = eventsOf(notes, new Set());
  return event === undefined ? [] : [...gripMaker(notes, mm, HAND_WEIGHTS)(event)];
}

test("search-grips: every candidate uses a string once and sounds the pitches", () => {
  const midis = [48, 55, 60, 64];
  const grips = gripsOf(midis);
  expect(grips.length).toBeGreaterThan(5);
  expect(grips.length).toBeLessThanOrEqual(MOST_GRIPS);
  for (const g of grips) {
    expect(new Set(g.strings).size).toBe(4);
    g.strings.forEach((s, k) => {
      expect((GUITAR.openMidi[6 - s] as number) + (g.frets[k] as number)).toBe(midis[k]);
    });
  }
});

test("search-grips: of two pitches that only string 6 has, the less certain one is left out", () => {
  for (const g of gripsOf([40, 42], [1, 0.3])) expect([g.left, g.strings]).toEqual([[1], [6, 0]]);
});

test("search-grips: seven pitches leave one out", () => {
  const grips = gripsOf([40, 47, 52, 56, 59, 64, 68], [1, 1, 1, 1, 1, 1, 0.2]);
  expect(grips.length).toBeGreaterThan(0);
  expect(grips[0]?.left).toContain(6);
});
