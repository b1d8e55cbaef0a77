import { expect, test } from "vitest";
import { TICKS_PER_BEAT } from "../../src/base/ticks.js";
import { barOrder, swungTick, TICKS_A_BEAT, unfoldSheet } from "../../src/check/written.js";
import { risingBars, tinySheet } from "../helpers/check/tiny.js";

test("check/written: ticks are the grid's", () => expect(TICKS_A_BEAT).toBe(TICKS_PER_BEAT));

const repeat = (
  fromBar: number,
  toBar: number,
  times: number,
  endings: { times: number[]; bars: number[] }[] = [],
) => ({
  fromBar,
  toBar,
  times,
  endings,
});

for (const [repeats, order, source] of [
  [[], [1, 2, 3, 4, 5, 6], "no repeats"],
  [[repeat(1, 2, 2)], [1, 2, 1, 2, 3, 4, 5, 6], "|: 1 2 :| 3 4 5 6, common practice"],
  [[repeat(2, 3, 3)], [1, 2, 3, 2, 3, 2, 3, 4, 5, 6], "three times"],
  [
    [
      repeat(1, 3, 2, [
        { times: [1], bars: [3] },
        { times: [2], bars: [4] },
      ]),
    ],
    [1, 2, 3, 1, 2, 4, 5, 6],
    "first and second ending, common practice",
  ],
  [[repeat(1, 2, 2), repeat(5, 6, 2)], [1, 2, 1, 2, 3, 4, 5, 6, 5, 6], "two repeats"],
] as const)
  test(`check/written: bar order ${order.join(" ")} (${source})`, () => {
    const sheet = {
      ...tinySheet(risingBars(6)),
      repeats: repeats.map((r) => ({
        ...r,
        endings: r.endings.map((e) => ({ times: [...e.times], bars: [...e.bars] })),
      })),
    };
    expect(barOrder(sheet)).toEqual([...order]);
  });

test("check/written: events gather what is plucked together; ties and dead notes are not asked", () => {
  const sheet = tinySheet([
    [1, 0, 6, 3],
    [1, 0, 1, 3],
    [1, 24, 2, 0],
    [1, 48, 3, 0],
  ]);
  sheet.notes[2]?.marks.push("tie");
  sheet.notes[3]?.marks.push("dead");
  const score = unfoldSheet(sheet);
  expect(score.events.map((e) => [e.startTick, e.midis])).toEqual([[0, [43, 67]]]);
});

test("check/written: a pick-up of one beat comes a beat before bar 1, whichever way its ticks count", () => {
  for (const tick of [0, 72]) {
    const sheet = tinySheet([
      [0, tick, 1, 0],
      [1, 0, 1, 3],
    ]);
    sheet.grid.pickupBeats = 1;
    const [up, down] = unfoldSheet(sheet).events;
    expect((down?.startTick ?? 0) - (up?.startTick ?? 0)).toBe(24);
  }
});

test("check/written: swing 2 : 1 puts the second eighth on the third triplet (16 of 24 ticks, by hand)", () => {
  const sheet = tinySheet(risingBars(1));
  sheet.grid.feel = "swing";
  sheet.grid.swingRatio = 2;
  expect([0, 12, 24, 36].map((t) => swungTick(t, sheet))).toEqual([0, 16, 24, 40]);
});
