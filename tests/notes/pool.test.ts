import { expect, test } from "vitest";
import type { Listening, PlayedNote } from "../../src/notes/played-note.js";
import { poolRepeats } from "../../src/notes/pool.js";

// Four bars of two seconds, two basses and a chord each and the note in question at beat 2; worked by hand.
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
const rest = bars.flatMap(({ startSec }) =>
  [
    [0, 45],
    [1, 52],
    [1.5, 64],
  ].map(
    ([sec = 0, midi = 0]): PlayedNote => ({
      onsetSec: startSec + sec,
      offsetSec: startSec + sec + 0.4,
      midi,
      confidence: 0.99,
      velocity: 0.6,
    }),
  ),
);
const listening = (notes: PlayedNote[], candidates: PlayedNote[]): Listening => ({
  notes: [...rest, ...notes].sort((a, b) => a.onsetSec - b.onsetSec || a.midi - b.midi),
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
  expect(out.notes.filter((n) => n.midi === 60).map((n) => n.onsetSec)).toEqual([0.5, 2.5, 4.5, 6.5]);
});

test("pool: what is clearly absent stays absent", () => {
  const out = poolRepeats(listening(sure, [note(2, 0.02)]), bars, [0, 0, 0, 0]);
  expect(out.changed).toBe(0);
  expect(out.notes).toHaveLength(rest.length + 3);
});

test("pool: a doubtful note that its siblings hear a trace of, and none has, goes; a clear one stays as a variation", () => {
  const traces = [0, 1, 3].map((b) => note(b, 0.1, 72));
  const out = poolRepeats(
    listening([...sure, note(2, 0.52, 72), note(1, 0.99, 76)], traces),
    bars,
    [0, 0, 0, 0],
  );
  expect(out.notes.some((n) => n.midi === 72)).toBe(false);
  expect(out.notes.some((n) => n.midi === 76)).toBe(true);
  expect(out.changed).toBe(1);
});

test("pool: an octave that every repeat hears with doubt is an overtone and goes; one heard surely in all stays", () => {
  const octave = (confidence: number): PlayedNote[] => bars.map((_, b) => note(b, confidence, 72));
  const under = bars.map((_, b) => note(b, 0.99));
  const ghosts = poolRepeats(listening([...under, ...octave(0.65)], []), bars, [0, 0, 0, 0]); // picked from 0.63 on
  expect(ghosts.notes.filter((n) => n.midi === 72)).toEqual([]);
  const pinch = octave(0.99).map((n, b) => (b === 2 ? { ...n, confidence: 0.65 } : n));
  const played = poolRepeats(listening([...under, ...pinch], []), bars, [0, 0, 0, 0]);
  expect(played.notes.filter((n) => n.midi === 72)).toHaveLength(4);
});

test("pool: a bar that goes another way asks only where it is like its siblings", () => {
  const other = rest.map((n) => (n.onsetSec >= 4 && n.onsetSec < 6 ? { ...n, midi: n.midi + 5 } : n));
  const take = { ...listening([], []), notes: [...other, ...sure, note(2, 0.6, 72)] };
  expect(poolRepeats(take, bars, [0, 0, 0, 0]).notes.some((n) => n.midi === 72)).toBe(true);
});

test("pool: where nothing repeats nothing changes", () => {
  const notes = [...sure, note(2, 0.6, 72)];
  const out = poolRepeats(listening(notes, [note(2, 0.45)]), bars, [0, 1, 2, 3]);
  expect(out.changed).toBe(0);
  expect(new Set(out.notes)).toEqual(new Set([...rest, ...notes]));
});
