import { readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { hasShared, SHARED, testNeeding } from "../needs.js";
import { mendedRows, type Row } from "./mend-rows.js";

const row = (beat: number, beats: number, midi: number): Row => ({ beat, beats, midi });
const times = (rows: readonly Row[]): string[] =>
  rows.map((r) => `${r.beat.toFixed(3)} ${r.beats.toFixed(3)} ${r.midi}`).sort();

test("mend-rows: rows in one time line stay as they are", () => {
  const rows = [row(0, 1, 40), row(0, 0.5, 64), row(0.5, 0.5, 65), row(1, 1 / 3, 67), row(4 / 3, 1 / 3, 69)];
  expect(mendedRows(rows)).toEqual({ rows });
});

test("mend-rows: a movement that counts from 0 again begins after the last has ended (by hand)", () => {
  const rows = [row(0, 2, 40), row(2, 2.5, 45), row(0, 1, 52), row(1, 1, 53)];
  expect(mendedRows(rows).rows.map((r) => r.beat)).toEqual([0, 2, 12, 13]);
});

test("mend-rows: six whole notes at the end that say how the strings are tuned are no music", () => {
  const chart = [41, 45, 50, 55, 59, 64].map((midi) => row(0, 4, midi)); // sixth string up to F
  const music = [row(0, 1, 41), row(1, 1, 53)];
  expect(mendedRows([...music, ...chart])).toEqual({ rows: music, openMidi: [41, 45, 50, 55, 59, 64] });
});

// Composed here: a bass in halves under triplets. After the second group a number 1 stood alone: the note before it comes again
// for two thirds of a whole, and the third group has taken on that length; a rest follows, with a length of its own again.
test("mend-rows: a number that was read as a note goes, and what it lengthened is a triplet again (by hand)", () => {
  const third = 1 / 3;
  const wrong = 8 / 3;
  const bass = [row(0, 2, 38), row(2, 2, 43), row(4, 2, 38)];
  const heard = [57, 62, 65, 58, 62, 65].map((midi, k) => row(k * third, third, midi));
  const phantom = row(2, wrong, 65);
  const late = [57, 61, 67].map((midi, k) => row(2 + wrong + k * wrong, wrong, midi));
  const after = [62, 65].map((midi, k) => row(2 + 4 * wrong + third + k * third, third, midi));
  const mended = mendedRows([...bass, ...heard, phantom, ...late, ...after].sort((a, b) => a.beat - b.beat));
  const want = [
    ...heard,
    ...[57, 61, 67].map((midi, k) => row(2 + k * third, third, midi)),
    ...[62, 65].map((midi, k) => row(3 + third + k * third, third, midi)),
  ];
  expect(times(mended.rows)).toEqual(times([...bass, ...want]));
});

// Beethoven's op. 27 no. 2, first movement, which this piece arranges: 69 bars of two half notes, the last held (from memory).
testNeeding(
  hasShared("fingered"),
  "the fingered set",
  "mend-rows: both voices of the arranged sonata end in bar 69",
  () => {
    const file = readFileSync(join(SHARED, "fingered", "claro-de-luna.json"), "utf8");
    const { notes } = JSON.parse(file) as { notes: Row[] };
    const { rows } = mendedRows(notes);
    const marks = (list: readonly Row[]): number => list.filter((r) => r.string ?? r.leftFinger).length;
    expect(marks(rows)).toBe(marks(notes)); // nothing that a player marked was taken for a number
    const barOf = (r: Row): number => Math.floor(r.beat / 4 + 1e-6) + 1;
    const last = rows.filter((r) => barOf(r) === 69);
    expect(last.map((r) => r.midi).sort()).toEqual([38, 53, 57, 62]); // D minor, bass and triplets' voice together
    expect(Math.max(...rows.map(barOf))).toBe(69);
    const full = new Map<number, number>();
    for (const r of rows)
      if (Math.abs(r.beats - 1 / 3) < 0.01 && r.midi > 45) full.set(barOf(r), (full.get(barOf(r)) ?? 0) + 1);
    for (let bar = 16; bar <= 28; bar++) expect(full.get(bar), `bar ${bar}`).toBe(12); // twelve triplets a bar, no rests here
  },
);
