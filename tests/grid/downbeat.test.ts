import { expect, test } from "vitest";
import { type BeatContent, chooseDownbeat, downbeatScores } from "../../src/grid/downbeat.js";

// Beats worked by hand: C and G7 by turns, a bass on the first beat of each bar.
const CHORDS = [
  [0, 4, 7],
  [7, 11, 5],
];
const beat = (chord: readonly number[], lowMidi: number | undefined): BeatContent => {
  const chroma = new Float64Array(12);
  for (const pc of chord) chroma[pc] = 1;
  return { lowMidi, hits: lowMidi === undefined ? 0 : 2, chroma };
};
const music = (beats: number, bars: number, bass: boolean): BeatContent[] =>
  Array.from({ length: beats * bars }, (_, k) =>
    beat(CHORDS[Math.floor(k / beats) % 2] as number[], k % beats === 0 && bass ? 43 : 60),
  );
const even = (beats: number): number[] => new Array(beats).fill(0);

for (const beats of [2, 3, 4, 6])
  test(`downbeat: bars of ${beats}, from their first beat and from each other one`, () => {
    for (let late = 0; late < beats; late++) {
      const { phase, margin } = chooseDownbeat(music(beats, 9, true).slice(late), beats, even(beats));
      expect(phase).toBe((beats - late) % beats);
      expect(margin).toBeGreaterThan(0);
    }
  });

test("downbeat: chord changes alone tell, without basses", () =>
  expect(chooseDownbeat(music(4, 8, false).slice(1), 4, even(4)).phase).toBe(3));

test("downbeat: where nothing tells, the prior does; where it has no say, the first", () => {
  const plain = Array.from({ length: 16 }, () => beat([0, 4, 7], 60));
  expect(chooseDownbeat(plain, 4, [0, 0, 2, 0]).phase).toBe(2);
  expect(chooseDownbeat(plain, 4, even(4)).phase).toBe(0);
});

test("downbeat: a score for each phase", () => expect(downbeatScores(music(3, 4, true), 3)).toHaveLength(3));
