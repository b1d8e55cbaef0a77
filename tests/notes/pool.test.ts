import { expect, test } from "vitest";
import type { Listening, PlayedNote } from "../../src/notes/played-note.js";
import { poolRepeats } from "../../src/notes/pool.js";

// Four bars of two seconds, one note each at beat 2; worked by hand.
const bars = Array.from({ length: 4 }, (_, k) => ({
  startSec: 2 * k,
  endSec: 2 * k + 2,
  beatSec: [0, 0.5, 1, 1.5, 2].map((s) => s + 2 * k),
}));
const note = (bar: number, confidence: number, midi = 60): PlayedNote => ({
  onsetSec: 2 * bar + 0.5,
  offsetSec: 2 * bar + 1,
  midi,
  confidence,
  velocity: 0.5,
});
const listening = (notes: PlayedNote[], candidates: PlayedNote[]): Listening => ({
  notes,
  candidates,
  evidence: {
    frameSec: 0.01,
    frameCount: 900,
    lowestMidi: 40,
    pitchCount: 45,
    onset: new Int8Array(900 * 45).fill(-90),
    sounding: new Int8Array(900 * 45).fill(-90),
  },
  tuningCents: 0,
  durationSec: 9,
});
const sure = [note(0, 0.98), note(1, 0.97), note(3, 0.98)];

test("pool: a note masked in one bar is recovered from its siblings", () => {
  const out = poolRepeats(listening(sure, [note(2, 0.45)]), bars, [0, 0, 0, 0]);
  expect(out.changed).toBe(1);
  expect(out.notes.map((n) => n.onsetSec)).toEqual([0.5, 2.5, 4.5, 6.5]);
});

test("pool: what is clearly absent stays absent", () => {
  const out = poolRepeats(listening(sure, [note(2, 0.02)]), bars, [0, 0, 0, 0]);
  expect(out.changed).toBe(0);
  expect(out.notes).toHaveLength(3);
});

test("pool: a doubtful note that no sibling has goes, a clear one stays as a variation", () => {
  const out = poolRepeats(listening([...sure, note(2, 0.6, 72), note(1, 0.99, 76)], []), bars, [0, 0, 0, 0]);
  expect(out.notes.some((n) => n.midi === 72)).toBe(false);
  expect(out.notes.some((n) => n.midi === 76)).toBe(true);
  expect(out.changed).toBe(1);
});

test("pool: where nothing repeats nothing changes", () => {
  const notes = [...sure, note(2, 0.6, 72)];
  const out = poolRepeats(listening(notes, [note(2, 0.45)]), bars, [0, 1, 2, 3]);
  expect(out.changed).toBe(0);
  expect(new Set(out.notes)).toEqual(new Set(notes));
});
