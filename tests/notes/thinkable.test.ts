// What is kept where an onset is thinkable. Reference: formulas of the features and of softmax, worked by hand.
import { expect, test } from "vitest";
import { makeCellList, sideOf } from "../../src/notes/thinkable.js";
import { cardByHand } from "./card-by-hand.js";

const STRETCH_FRAMES = 10;
const card = cardByHand({ lowestMidi: 40, contextFrames: 0, strings: { temperature: 2, claim: 0.7 } });
const PITCHES = card.pitchCount;
const near = (list: readonly number[], wanted: readonly number[]): void => {
  expect(list.length).toBe(wanted.length);
  for (const [k, x] of wanted.entries()) expect(list[k]).toBeCloseTo(x, 6);
};

/** Two stretches: cells at frame 3 (pitches 0 and 2) of the first, and at frame 14, that is 4 of the second. */
function side(hasStrings: boolean): ReturnType<typeof sideOf> {
  const clear = Float32Array.of(0, 2 * Math.log(15), 0, 0, 0, 0); // e^(x/2): 15 against 1 five times, so 0.75
  const even = new Float32Array(6);
  const [first, second] = [makeCellList(), makeCellList()];
  first.add(3 * PITCHES, 0.5, hasStrings ? clear : undefined);
  first.add(3 * PITCHES + 2, 0, hasStrings ? even : undefined);
  second.add(4 * PITCHES + 1, Math.log(3) / 6, hasStrings ? clear : undefined);
  return sideOf([first.whole(), second.whole()], STRETCH_FRAMES, card);
}

test("thinkable: the level undoes the features' log(1 + 2000·m)/6, in whichever stretch the place lies", () => {
  const ask = side(false);
  expect(ask(3, 0)?.level).toBeCloseTo((Math.exp(3) - 1) / 2000, 9);
  expect(ask(3, 2)?.level).toBe(0);
  expect(ask(14, 1)?.level).toBeCloseTo(2 / 2000, 9);
  expect(ask(14, 1)?.shares).toBeUndefined();
});

test("thinkable: strings are told where one has the claimed share, at the card's temperature, and not where all are alike", () => {
  const ask = side(true);
  near(ask(3, 0)?.shares ?? [], [0.05, 0.75, 0.05, 0.05, 0.05, 0.05]);
  near(ask(14, 1)?.shares ?? [], [0.05, 0.75, 0.05, 0.05, 0.05, 0.05]);
  expect(ask(3, 2)).toEqual({ level: 0 });
});

test("thinkable: nothing is known of other places, nor beyond the last stretch", () => {
  const ask = side(true);
  for (const [frame, pitchIdx] of [
    [0, 0],
    [3, 1],
    [13, 0],
    [4, 1],
    [24, 1],
  ] as const)
    expect(ask(frame, pitchIdx)).toBeUndefined();
});
