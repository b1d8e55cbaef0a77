import { expect, test } from "vitest";
import { alignSheet } from "../../src/check/align.js";
import { askNotes, logistic, reachOf, THERE_FEATURES } from "../../src/check/judge.js";
import { THERE_WEIGHTS, UNWRITTEN_WEIGHTS } from "../../src/check/judge-table.js";
import { askHeard, UNWRITTEN_FEATURES } from "../../src/check/unwritten.js";
import { playTiny, risingBars, tinyListening, tinySheet } from "../helpers/check/tiny.js";

test("check/judge: a weight for every feature and one constant", () => {
  expect(THERE_WEIGHTS).toHaveLength(THERE_FEATURES.length + 1);
  expect(UNWRITTEN_WEIGHTS).toHaveLength(UNWRITTEN_FEATURES.length + 1);
});

test("check/judge: the logistic of 1 + 2·0.5 − 1·2 = 0 is one half (by hand)", () => {
  expect(logistic([1, 2, -1], [0.5, 2])).toBe(0.5);
});

const sheet = tinySheet(risingBars(4));
const played = playTiny(sheet, 1, 0.4);
const run = (notes: readonly { sec: number; midi: number; logit?: number }[]) => {
  const listening = tinyListening(notes, 9);
  const alignment = alignSheet(sheet, listening);
  const asked = askNotes(sheet, listening, alignment);
  return { asked, heard: askHeard(sheet, listening, alignment, asked), alignment };
};

test("check/judge: clear notes are there, a silent one is not", () => {
  const { asked } = run(played.filter((_, k) => k !== 6));
  asked.forEach((a) => {
    if (a.noteIdx === 6) expect(a.there).toBeLessThan(0.2);
    else expect(a.there).toBeGreaterThan(0.9);
  });
});

test("check/judge: a note that the listener did not pick, yet not denied, is there: it is written", () => {
  const { asked } = run(played.map((n, k) => (k === 6 ? { ...n, logit: -0.5 } : n)));
  expect(asked.find((a) => a.noteIdx === 6)?.there).toBeGreaterThan(0.7);
});

test("check/judge: a repeated pitch is looked for no further than half way to its neighbour", () => {
  const repeated = tinySheet(
    Array.from({ length: 8 }, (_, k) => [1 + Math.floor(k / 4), (k % 4) * 24, 1, 3] as const),
  );
  const alignment = alignSheet(repeated, tinyListening(playTiny(repeated, 1, 0.1), 3));
  const [before, after] = reachOf(alignment.events, 2, 67, alignment.midiOf);
  expect(before).toBeLessThan(0.05);
  expect(after).toBeLessThan(0.05);
});

test("check/unwritten: an added note is heard as such; the written ones are not", () => {
  const { heard } = run([...played, { sec: 2.4, midi: 52 }]);
  expect(heard.map((h) => [h.midi, h.barIdx, h.tick])).toEqual([[52, 0, 84]]); // 1.4 s = 3.5 beats of 0.4 s into bar 1
  expect(heard[0]?.played).toBeGreaterThan(0.6);
});

test("check/unwritten: an octave above a note struck with it is no clear proof", () => {
  const at = played[5];
  const plain = run([...played, { sec: at?.sec ?? 0, midi: (at?.midi ?? 0) + 7, logit: 1 }]).heard[0];
  const octave = run([...played, { sec: at?.sec ?? 0, midi: (at?.midi ?? 0) + 12, logit: 1 }]).heard[0];
  expect(octave?.played ?? 0).toBeLessThan(plain?.played ?? 0);
  expect(octave?.played ?? 0).toBeLessThan(0.5);
});

test("check/unwritten: nothing is asked of what comes before the music or after it", () => {
  const late = played.map((n) => ({ ...n, sec: n.sec + 2 }));
  const { heard } = run([...late, { sec: 0.8, midi: 52 }]);
  expect(heard).toEqual([]);
});
