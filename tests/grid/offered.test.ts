// A tempo heard at half or double its level is the usual slip (Gouyon et al. 2006, its second measure of accuracy; from memory), so both are offered.
import { expect, test } from "vitest";
import type { GridReading } from "../../src/grid/grid.js";
import { offeredReadings, unsureOf } from "../../src/grid/offered.js";

const reading = (tempoBpm: number, beats: number, confidence: number): GridReading => ({
  tempoBpm,
  meter: { beats, unit: 4 },
  confidence,
  why: "",
});

test.each([
  [
    "half and double behind the surest other one",
    [88, 88, 88, 176, 44],
    [4, 2, 3, 4, 2],
    ["88/2", "176/4", "44/2"],
  ],
  ["the surest other one is the double itself", [60, 120, 30], [4, 4, 2], ["120/4", "30/2"]],
  ["a tempo that drifts is near enough", [87.69, 88, 175.4], [4, 3, 4], ["88/3", "175.4/4"]],
  ["nothing but the one that is taken", [100], [4], []],
  ["no reading, since the tempo was given", [], [], []],
])("offered readings: %s", (_what, tempi, beats, want) => {
  const readings = tempi.map((t, k) => reading(t, beats[k] as number, 1 / (k + 1)));
  const got = offeredReadings({ readings, tempoBpm: tempi[0] ?? 100 });
  expect(got.map((r) => `${r.tempoBpm}/${r.meter.beats}`)).toEqual(want);
});

// By hand: shares of a probability.
test.each([
  ["nothing", [100, 50], [4, 4], [0.95, 0.05], undefined],
  [
    "the bar, when another bar has most of the beat's share",
    [100, 100, 50],
    [4, 2, 4],
    [0.5, 0.45, 0.05],
    "bar",
  ],
  ["the beat, whatever the bar", [100, 50, 100], [4, 4, 2], [0.5, 0.3, 0.2], "beat"],
])("unsure of %s", (_what, tempi, beats, shares, want) => {
  const readings = tempi.map((t, k) => reading(t, beats[k] as number, shares[k] as number));
  expect(unsureOf({ readings })).toBe(want);
  const isOtherBeat = offeredReadings({ readings, tempoBpm: 100 }).some((r) => r.tempoBpm === 50);
  expect(isOtherBeat).toBe(true);
});
