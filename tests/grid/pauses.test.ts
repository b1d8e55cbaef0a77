import { expect, test } from "vitest";
import { findGrid } from "../../src/grid/beats.js";
import { gatherEvents } from "../../src/grid/events.js";
import { nextPause, pausesBack, withoutDrawn, withoutPause } from "../../src/grid/pauses.js";
import { placeNotes } from "../../src/grid/place.js";
import type { PlayedNote } from "../../src/notes/played-note.js";
import { placementRate } from "../helpers/score/take.js";
import { perform } from "../helpers/takes/perform.js";
import { studyNamed } from "../helpers/takes/studies.js";
import { simulateListening } from "./simulate.js";

// Eight bars of 4/4 at 120: bass on 1 and 3, upper notes on the off-beats of 1 and 2; the last four come `lateSec` later. By hand.
const bars = (lateSec: number): PlayedNote[] =>
  Array.from({ length: 8 }, (_, bar) =>
    [0, 0.5, 1.5, 2].map((beat): PlayedNote => {
      const onsetSec = 1 + 2 * bar + beat / 2 + (bar >= 4 ? lateSec : 0);
      const midi = beat === 0 || beat === 2 ? 45 : 64;
      return { onsetSec, offsetSec: onsetSec + 0.4, midi, confidence: 0.95, velocity: 0.5 };
    }),
  ).flat();
const beatSec = Array.from({ length: 40 }, (_, k) => 1 + k / 2);

test("pauses: the time lost before a bar, and where the music goes on", () => {
  const pause = nextPause(gatherEvents(bars(0.8)), beatSec, 4, 0);
  expect(pause?.fromSec).toBeCloseTo(9.8, 6);
  expect(pause?.sec).toBeCloseTo(0.8, 6);
});
test("pauses: none where nothing was lost", () =>
  expect(nextPause(gatherEvents(bars(0)), beatSec, 4, 0)).toBeUndefined());

test("pauses: time taken out and put back is as it was", () => {
  const events = gatherEvents(bars(0.8));
  const pause = { fromSec: 9.8, sec: 0.8 };
  expect(withoutPause(events, pause).map((e) => e.sec)).toEqual(
    gatherEvents(bars(0)).map((e) => expect.closeTo(e.sec, 9)),
  );
  expect(pausesBack([8, 8.5, 9, 9.5], [pause], 0.1)).toEqual(
    [8, 8.5, 9.8, 10.3].map((x) => expect.closeTo(x, 9)),
  );
});

test("pauses: a second's pause in a study shifts none of the bars after it", () => {
  const study = studyNamed("low-tide");
  const played = perform(study, { seed: 2, pauses: [{ beforeBar: 1 + study.barCount / 2, sec: 1 }] });
  const { notes } = simulateListening(played);
  const listening = simulateListening(played);
  const grid = findGrid(listening, { tempoBpm: study.tempoBpm, meter: study.meter });
  expect(placementRate(played.notes, placeNotes(notes, grid)).rate).toBeGreaterThan(0.98);
});

test("pauses: what stands within a drawn-out beat moves together, what follows by the time that was lost", () => {
  const events = gatherEvents([
    ...[1, 2, 2.5, 3.5, 4].map(
      (onsetSec): PlayedNote => ({
        onsetSec,
        offsetSec: onsetSec + 0.4,
        midi: 50,
        confidence: 1,
        velocity: 0.5,
      }),
    ),
  ]);
  // The beat from 2 to 3 s lasted half a second: by hand.
  const closed = withoutDrawn(events, { fromSec: 2, toSec: 3, usualSec: 0.5 });
  expect(closed.map((e) => e.sec)).toEqual([1, 2, 2.25, 3, 3.5]);
});

test("pauses: a third of a second before a bar draws its last beat out; the bars after it stay in place", () => {
  const study = studyNamed("low-tide");
  const played = perform(study, { seed: 3, pauses: [{ beforeBar: 5, sec: 0.3 }] });
  const { notes, ...rest } = simulateListening(played, { seed: 3 });
  const grid = findGrid({ notes, ...rest }, { tempoBpm: study.tempoBpm, meter: study.meter });
  expect(placementRate(played.notes, placeNotes(notes, grid)).rate).toBeGreaterThanOrEqual(0.99);
});
