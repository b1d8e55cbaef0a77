import { expect, test } from "vitest";
import { gatherEvents } from "../../src/grid/events.js";
import { findStart } from "../../src/grid/start.js";
import type { PlayedNote } from "../../src/notes/played-note.js";

// Eighths at 100 (0.6 s a beat) from 3.4 s on, worked by hand; what comes before is said in each row.
const PERIOD = 0.6;
const FIRST = 3.4;
const ringing = (onsetSec: number, midi: number): PlayedNote => ({
  onsetSec,
  offsetSec: onsetSec + 1.2,
  midi,
  confidence: 0.9,
  velocity: 0.7,
});
/** A click, tap or word that the listener took for a note. */
const short = (onsetSec: number): PlayedNote => ({
  onsetSec,
  offsetSec: onsetSec + 0.12,
  midi: 45,
  confidence: 0.6,
  velocity: 0.4,
});
const music = Array.from({ length: 16 }, (_, k) => ringing(FIRST + 0.3 * k, 45 + ((k * 7) % 24)));
const counts = [1, 1.6, 2.2, 2.8];

for (const [title, before, attackSec, countInBeats, wantSec, wantBeats] of [
  ["no count-in", [], [], undefined, FIRST, 0],
  ["clicks that are no notes", [], counts, undefined, FIRST, 4],
  ["taps half heard as notes", [1, 2.2], counts, undefined, FIRST, 4],
  ["counts heard only as notes", counts, [], undefined, FIRST, 4],
  ["words up to 30 ms off", [], [1.02, 1.57, 2.23, 2.8], undefined, FIRST, 4],
  ["clicks on every second beat", [], [1, 2.2], undefined, FIRST, 4],
  ["a knock long before the music", [0.2], [], undefined, FIRST, 0],
  ["--count-in 0: everything is music", counts, counts, 0, 1, 0],
  ["--count-in 4 and no attacks heard", counts, [], 4, FIRST, 4],
] as const)
  test(`start: ${title}`, () => {
    const notes = [...before.map(short), ...music];
    const events = gatherEvents(notes);
    const start = findStart(events, notes, {
      periodSec: PERIOD,
      meter: { beats: 4, unit: 4 },
      attackSec,
      ...(countInBeats === undefined ? {} : { countInBeats }),
    });
    expect(events[start.firstIdx]?.sec).toBeCloseTo(wantSec, 3);
    expect(start.countInBeats).toBe(wantBeats);
    if (start.beatAtSec !== undefined) expect(Math.abs(start.beatAtSec - wantSec)).toBeLessThan(0.07);
  });

test("start: the eighths of six are counted one by one or in dotted quarters", () => {
  const events = gatherEvents(music);
  for (const attackSec of [
    [FIRST - 1.8, FIRST - 1.5, FIRST - 1.2, FIRST - 0.9, FIRST - 0.6, FIRST - 0.3],
    [FIRST - 1.8, FIRST - 0.9],
  ]) {
    const start = findStart(events, music, { periodSec: 0.3, meter: { beats: 6, unit: 8 }, attackSec });
    expect(start.countInBeats).toBe(6);
    expect(events[start.firstIdx]?.sec).toBeCloseTo(FIRST, 3);
  }
});
