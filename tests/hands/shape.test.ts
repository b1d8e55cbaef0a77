import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { expect, test } from "vitest";
import type { Instrument } from "../../src/hands/fretted.js";
import { judgeGrip } from "../../src/hands/shape.js";

const GUITAR: Instrument = {
  openMidi: [40, 45, 50, 55, 59, 64],
  capo: 0,
  highestFret: 19,
  scaleLengthMm: 650,
};
const x = undefined;

for (const [name, frets, fingers] of [
  ["C major", [x, 3, 2, 0, 1, 0], [0, 3, 2, 0, 1, 0]],
  ["A minor", [x, 0, 2, 2, 1, 0], [0, 0, 2, 3, 1, 0]],
  ["F major with a barre", [1, 3, 3, 2, 1, 1], [1, 3, 4, 2, 1, 1]],
  ["D major", [x, x, 0, 2, 3, 2], [0, 0, 0, 1, 3, 2]],
  ["E major", [0, 2, 2, 1, 0, 0], [0, 2, 3, 1, 0, 0]],
] as const)
  test(`shape: ${name} gets the fingers of method books (common practice, no published source)`, () => {
    expect(judgeGrip(frets, GUITAR)).toMatchObject({ playable: true, fingers });
  });

for (const [frets, capo, why] of [
  [
    [1, x, x, x, x, 6],
    0,
    "five frets from the first, 154 mm: more than the 152 mm flat 2–5 span of small hands (Boyle et al. 2015)",
  ],
  [[1, 2, 3, 4, 5, x], 0, "five frets need five fingers"],
  [[x, 2, 0, 2, 0, 3, 4].slice(0, 6), 0, "playable control"],
  [[1, 0, 1, 2, 3, 4], 0, "a barre would stop the open string and there is no fifth finger"],
  [[3, 10, x, x, x, x], 0, "seven frets"],
  [[x, x, 20, x, x, x], 0, "past the highest fret"],
] as const)
  test(`shape: ${frets.map((f) => f ?? "x").join("-")} ${why}`, () => {
    expect(judgeGrip(frets, { ...GUITAR, capo }).playable).toBe(why === "playable control");
  });

test("shape: the same stretch gets shorter up the neck and with a capo (fret formula, by hand)", () => {
  const low = judgeGrip([1, x, x, x, 4, x], GUITAR).stretchMm;
  expect(low).toBeCloseTo(650 * (2 ** (-1 / 12) - 2 ** (-4 / 12)), 6);
  expect(judgeGrip([1, x, x, x, 4, x], { ...GUITAR, capo: 5 }).stretchMm).toBeCloseTo(
    low * 2 ** (-5 / 12),
    6,
  );
});

type Position = { frets: number[]; fingers: number[]; baseFret: number };
type ChordsDb = { chords: Record<string, { key: string; suffix: string; positions: Position[] }[]> };
const db = JSON.parse(
  readFileSync(createRequire(import.meta.url).resolve("@tombatossals/chords-db/lib/guitar.json"), "utf8"),
) as ChordsDb;
const shapes = Object.values(db.chords)
  .flat()
  .flatMap(({ key, suffix, positions }) =>
    positions.map((p, k) => ({
      name: `${key} ${suffix} #${k + 1}`,
      frets: p.frets.map((f) => (f < 0 ? undefined : f === 0 ? 0 : f + p.baseFret - 1)),
      fingers: p.fingers,
    })),
  );

/** Mistakes of the published table: no hand can stop fret 7 under its own barre at fret 8 (fret 9, the third of C9, is meant). */
const WRONG_IN_TABLE = ["C 9 #4"];

test("shape: every shape of @tombatossals/chords-db 0.5.1 with four fingers or fewer is playable", () => {
  expect(shapes.length).toBe(2069);
  const refused = shapes
    .filter((s) => new Set(s.fingers.filter((f) => f > 0)).size <= 4)
    .filter((s) => !judgeGrip(s.frets, GUITAR).playable)
    .map((s) => s.name);
  expect(refused).toEqual(WRONG_IN_TABLE);
});

test("shape: no shape of @tombatossals/chords-db stays playable with its highest note seven frets further", () => {
  const spread = shapes.flatMap(({ frets }) => {
    const stopped = frets.filter((f) => f !== undefined && f > 0) as number[];
    const top = Math.max(...stopped);
    const low = Math.min(...stopped);
    if (stopped.length < 2 || low > 3) return [];
    const at = frets.lastIndexOf(top);
    return [frets.map((f, k) => (k === at ? low + 7 : f))].filter((g) =>
      g.some((f, k) => f !== frets[k] && k === at && g.some((h) => h === low)),
    );
  });
  expect(spread.length).toBeGreaterThan(500);
  expect(spread.filter((frets) => judgeGrip(frets, GUITAR).playable)).toEqual([]);
});
