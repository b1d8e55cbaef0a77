import { expect, test } from "vitest";
import { askEssentia, parseVote } from "../../cli/essentia.js";

const RATE_HZ = 44100;

/** Triads of plain tones, 1.5 s each. */
function triads(chords: readonly (readonly number[])[]): Float32Array {
  const out = new Float32Array(Math.round(chords.length * 1.5 * RATE_HZ));
  chords.forEach((notes, c) => {
    for (let n = 0; n < 1.5 * RATE_HZ; n++) {
      let x = 0;
      for (const midi of notes)
        for (let h = 1; h <= 4; h++)
          x += Math.sin((2 * Math.PI * h * 440 * 2 ** ((midi - 69) / 12) * n) / RATE_HZ) / (h * h);
      out[c * 1.5 * RATE_HZ + n] = 0.1 * x;
    }
  });
  return out;
}

test("cli essentia: I IV V I in C is heard as C major, in a thread that leaves no handlers behind", async () => {
  const before = process.listenerCount("uncaughtException");
  const vote = await askEssentia(
    triads([
      [48, 64, 67, 72],
      [53, 65, 69, 72],
      [55, 62, 67, 71],
      [48, 64, 67, 72],
    ]),
    RATE_HZ,
  );
  expect(vote).toMatchObject({ key: "C", scale: "major" });
  expect(vote?.strength).toBeGreaterThan(0.5);
  expect(process.listenerCount("uncaughtException")).toBe(before);
});

test("cli essentia: an answer of another shape is no vote", () => {
  expect(parseVote(undefined)).toBeUndefined();
  expect(parseVote({ key: "C", scale: "lydian", strength: 1 })).toBeUndefined();
  expect(parseVote({ key: "C", scale: "minor", strength: 3 })).toEqual({
    key: "C",
    scale: "minor",
    strength: 1,
  });
});
