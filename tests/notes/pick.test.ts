// Picking on evidence written by hand: where peaks are, what is one note and what two, when a note ends.
import { expect, test } from "vitest";
import { parseCard } from "../../src/notes/card.js";
import { pickNotes, type Side } from "../../src/notes/pick.js";
import { type EvidenceMap, LOGIT_STEPS } from "../../src/notes/played-note.js";
import { cardByHand } from "./card-by-hand.js";

const card = cardByHand({ lowestMidi: 40, contextFrames: 0, strings: { temperature: 1, claim: 0.7 } });
const side: Side = () => ({ level: 0.1 });

/** @param onsets frame, pitch index, logit @param soundings from, to, pitch index (logit 4 inside, −4 outside) */
function evidence(onsets: [number, number, number][], soundings: [number, number, number][]): EvidenceMap {
  const frameCount = 200;
  const map: EvidenceMap = {
    frameSec: 0.01,
    frameCount,
    lowestMidi: 40,
    pitchCount: 3,
    onset: new Int8Array(frameCount * 3).fill(-7 * LOGIT_STEPS),
    sounding: new Int8Array(frameCount * 3).fill(-4 * LOGIT_STEPS),
  };
  for (const [f, p, logit] of onsets) map.onset[f * 3 + p] = logit * LOGIT_STEPS;
  for (const [from, to, p] of soundings)
    for (let f = from; f < to; f++) map.sounding[f * 3 + p] = 4 * LOGIT_STEPS;
  return map;
}

test("pick: a peak over the threshold is a note, one under it a candidate, its confidence the sigmoid of the logit", () => {
  const { notes, candidates } = pickNotes(
    evidence(
      [
        [20, 0, 2],
        [60, 1, -1],
      ],
      [[20, 80, 0]],
    ),
    card,
    side,
  );
  expect(notes.map((n) => [n.midi, n.onsetSec, n.offsetSec])).toEqual([[40, 0.2, 0.8]]);
  expect(notes[0]?.confidence).toBeCloseTo(1 / (1 + Math.exp(-2)), 6);
  expect(candidates.map((n) => n.midi)).toEqual([41]);
});

test("pick: two peaks of a pitch within 50 ms are one, the stronger", () => {
  const { notes } = pickNotes(
    evidence(
      [
        [20, 0, 2],
        [24, 0, 3],
      ],
      [[20, 80, 0]],
    ),
    card,
    side,
  );
  expect(notes.map((n) => n.onsetSec)).toEqual([0.24]);
});

test("pick: a pitch plucked again ends the old note at the new one", () => {
  const { notes } = pickNotes(
    evidence(
      [
        [20, 0, 2],
        [50, 0, 3],
      ],
      [[20, 120, 0]],
    ),
    card,
    side,
  );
  expect(notes.map((n) => [n.onsetSec, n.offsetSec])).toEqual([
    [0.2, 0.5],
    [0.5, 1.2],
  ]);
});

test("pick: a short hole in the sounding map does not end a note, 40 ms and more do", () => {
  const held = pickNotes(
    evidence(
      [[20, 0, 2]],
      [
        [20, 50, 0],
        [53, 90, 0],
      ],
    ),
    card,
    side,
  );
  expect(held.notes[0]?.offsetSec).toBeCloseTo(0.9, 9);
  const ended = pickNotes(
    evidence(
      [[20, 0, 2]],
      [
        [20, 50, 0],
        [56, 90, 0],
      ],
    ),
    card,
    side,
  );
  expect(ended.notes[0]?.offsetSec).toBeCloseTo(0.5, 9);
});

test("pick: the onset lies at the top of the parabola through three frames, by hand", () => {
  // logits 0, 2, 1: top at (0 − 1) / (2 · (0 − 4 + 1)) = 1/6 frame after the middle
  const { notes } = pickNotes(
    evidence(
      [
        [19, 0, 0],
        [20, 0, 2],
        [21, 0, 1],
      ],
      [[20, 60, 0]],
    ),
    card,
    side,
  );
  expect(notes[0]?.onsetSec).toBeCloseTo(0.2 + 0.01 / 6, 9);
});

test("card: what is missing is named", () => {
  expect(parseCard(card)).toEqual(card);
  for (const [field, value] of [
    ["pitchCount", "53"],
    ["sha256", ""],
    ["calibration", null],
    ["strings", null],
    ["offLogit", Number.NaN],
  ] as const)
    expect(() => parseCard({ ...card, [field]: value })).toThrow(
      expect.objectContaining({ code: "bad-model", message: expect.stringContaining(field) }),
    );
  expect(() => parseCard({ ...card, calibration: { one: 1 } })).toThrow("calibration.onset");
  expect(() => parseCard([])).toThrow(expect.objectContaining({ code: "bad-model" }));
});
