import { expect, test } from "vitest";
import { beatToSec, playedBars, playedEvents, playOrder, tickToBeat } from "../../src/base/playback.js";

const grid = {
  tempoBpm: 120,
  meter: { beats: 4, unit: 4 },
  feel: "straight" as const,
  swingRatio: 1,
  beatSec: [],
  barCount: 8,
  pickupBeats: 0,
};
const note = (bar: number, tick: number, lengthTicks: number, string = 1, marks: string[] = []) => ({
  bar,
  tick,
  lengthTicks,
  string,
  fret: 0,
  marks,
});

for (const [repeats, order, why] of [
  [[], [1, 2, 3, 4, 5], "no repeats"],
  [[{ fromBar: 1, toBar: 2, times: 2, endings: [] }], [1, 2, 1, 2, 3, 4, 5], "a plain repeat"],
  [[{ fromBar: 2, toBar: 3, times: 3, endings: [] }], [1, 2, 3, 2, 3, 2, 3, 4, 5], "three times"],
  [
    [
      {
        fromBar: 1,
        toBar: 3,
        times: 2,
        endings: [
          { times: [1], bars: [2] },
          { times: [2], bars: [3] },
        ],
      },
    ],
    [1, 2, 1, 3, 4, 5],
    "first and second ending",
  ],
  [
    [
      {
        fromBar: 1,
        toBar: 3,
        times: 3,
        endings: [
          { times: [1, 2], bars: [3] },
          { times: [3], bars: [4, 5] },
        ],
      },
    ],
    [1, 2, 3, 1, 2, 3, 1, 2, 4, 5],
    "an ending for two rounds, one of two bars",
  ],
] as const)
  test(`playback: ${why} is played in the order that a reader plays it (by hand)`, () =>
    expect(playOrder(5, false, repeats)).toEqual(order));

test("playback: the pick-up comes once, before bar 1, with its own length", () => {
  const bars = playedBars({ ...grid, pickupBeats: 1, barCount: 2 }, [
    { fromBar: 1, toBar: 2, times: 2, endings: [] },
  ]);
  expect(bars.map((b) => b.bar)).toEqual([0, 1, 2, 1, 2]);
  expect(bars[1]?.startBeat).toBe(1);
  expect(bars[1]?.beatSec[0]).toBeCloseTo(0.5, 9);
});

test("playback: the player's beats are kept, and a repeated bar is as uneven as it was", () => {
  const beatSec = [1, 1.6, 2.1, 2.9, 3.3];
  const bars = playedBars({ ...grid, barCount: 1, beatSec }, [
    { fromBar: 1, toBar: 1, times: 2, endings: [] },
  ]);
  expect(bars[1]?.beatSec.map((s) => Number(s.toFixed(6)))).toEqual([2.3, 2.9, 3.4, 4.2, 4.6]);
  expect(beatToSec(bars, 1.5)).toBeCloseTo(0.85, 9);
  expect(beatToSec(bars, 8.5)).toBeCloseTo(4.8, 9); // past the end the last beat's length (0.4 s) runs on
});

for (const [tick, ratio, beat] of [
  [12, 2, 2 / 3],
  [36, 2, 1 + 2 / 3],
  [12, 1.5, 0.6],
  [6, 2, 1 / 3],
  [8, 2, 1 / 3],
  [24, 2, 1],
] as const)
  test(`playback: tick ${tick} at swing ${ratio}:1 comes at beat ${beat.toFixed(3)} (by hand)`, () =>
    expect(tickToBeat(tick, { feel: "swing", swingRatio: ratio })).toBeCloseTo(beat, 9));

test("playback: a tie is one pluck, a string plucked again is cut, another string rings on", () => {
  const bars = playedBars({ ...grid, barCount: 2 }, []);
  const events = playedEvents(
    [note(1, 72, 24), note(2, 0, 24, 1, ["tie"]), note(1, 0, 96, 2), note(1, 24, 24, 2)],
    grid,
    bars,
  );
  expect(events.map((e) => [e.note.string, e.startBeat, e.endBeat])).toEqual([
    [2, 0, 1],
    [2, 1, 2],
    [1, 3, 5],
  ]);
  expect(events[2]?.endSec).toBeCloseTo(2.5, 9);
});

test("playback: a grace note comes before its main note and ends with it", () => {
  const bars = playedBars(grid, []);
  const events = playedEvents([note(2, 0, 6, 1, ["grace"]), note(2, 0, 24)], grid, bars);
  expect(events[0]?.startBeat).toBeLessThan(4);
  expect(events[0]?.endBeat).toBe(4);
});
