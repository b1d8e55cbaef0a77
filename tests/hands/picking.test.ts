import { expect, test } from "vitest";
import type { FrettedNote, PickFinger } from "../../src/hands/fretted.js";
import { pickFingers } from "../../src/hands/picking.js";
import { agreement } from "../helpers/hands/agreement.js";
import { fingeredPieces } from "../helpers/hands/fingered.js";
import { hasShared, testNeeding } from "../helpers/needs.js";
import { perform } from "../helpers/takes/perform.js";
import { namedStudies } from "../helpers/takes/studies.js";

/** Open strings by tick; 4/4, half a second a beat. */
function plucks(rows: readonly (readonly [number, readonly number[]])[], beatSec = 0.5): FrettedNote[] {
  const open = [64, 59, 55, 50, 45, 40];
  return rows.flatMap(([tick, strings]) =>
    strings.map(
      (string): FrettedNote => ({
        onsetSec: (tick * beatSec) / 24,
        offsetSec: (tick * beatSec) / 24 + 0.4,
        midi: open[string - 1] as number,
        confidence: 1,
        velocity: 0.5,
        bar: Math.floor(tick / 96) + 1,
        tick: tick % 96,
        lengthTicks: 12,
        string,
        fret: 0,
        finger: "p",
        leftFinger: 0,
        by: "machine",
        placeConfidence: 1,
        alternatives: [],
      }),
    ),
  );
}

const letters = (notes: readonly FrettedNote[]): string =>
  pickFingers(notes)
    .map((n) => n.finger)
    .join("");
const run = (strings: readonly number[], step = 12): FrettedNote[] =>
  plucks(strings.map((s, k) => [k * step, [s]] as const));

for (const [strings, want, what] of [
  [[5, 3, 2, 1, 2, 3], "pimami", "arpeggio at home"],
  [[6, 4, 3, 4, 6, 4, 2, 4, 6, 4, 1, 4], "ppipppmpppap", "the thumb walks on the basses under i, m and a"],
  [[5, 4, 3, 2, 3, 4], "ppimip", "two basses, then i and m"],
] as const)
  test(`picking: strings ${strings.join(" ")} are ${want}: ${what} (common practice, no published source)`, () => {
    expect(letters(run(strings))).toBe(want);
  });

for (const [strings, want] of [
  [[5, 1], "pa"],
  [[6, 3, 2, 1], "pima"],
  [[3, 2, 1], "ima"],
  [[4, 3], "pi"],
  [[5, 4, 3, 2, 1], "ppima"],
] as const)
  test(`picking: strings ${strings.join("+")} together are ${want} (common practice, no published source)`, () => {
    expect(letters(plucks([[0, strings]]))).toBe(want);
  });

test("picking: quick notes on one treble string alternate, and no finger comes twice in a row (common practice)", () => {
  const got = letters(run([1, 1, 1, 1, 1, 1, 1, 1], 6));
  for (let k = 1; k < got.length; k++) expect(got[k]).not.toBe(got[k - 1]);
  expect(got).not.toContain("p");
});

test("picking: fingers that pluck together never cross", () => {
  for (const study of namedStudies()) {
    const notes = pickFingers(
      perform(study, { seed: 2 }).notes.map(
        (n): FrettedNote => ({ ...n, confidence: 1, by: "machine", placeConfidence: 1, alternatives: [] }),
      ),
    );
    const at = new Map<string, FrettedNote[]>();
    for (const n of notes) at.set(`${n.bar}|${n.tick}`, [...(at.get(`${n.bar}|${n.tick}`) ?? []), n]);
    for (const group of at.values()) {
      const sorted = group.sort((a, b) => b.string - a.string).map((n) => "pima".indexOf(n.finger));
      for (let k = 1; k < sorted.length; k++)
        expect(sorted[k]! > sorted[k - 1]! || (sorted[k] === 0 && sorted[k - 1] === 0)).toBe(true);
    }
  }
});

test("picking: a finger that a hand wrote stays, and the others fit around it", () => {
  const notes = run([5, 3, 2, 1], 6);
  const lock = { bar: 1, tick: 6, midi: 55, finger: "m" as PickFinger };
  const got = pickFingers(notes, { locks: [lock] });
  expect(got[1]?.finger).toBe("m");
  expect(got[2]?.finger).not.toBe("m");
});

test("picking: on true strings of composed studies p-i-m-a is right for 0.95 of the notes", () => {
  let right = 0;
  let of = 0;
  for (const study of namedStudies()) {
    const played = perform(study, { seed: 1 }).notes;
    const got = pickFingers(
      played.map(
        (n): FrettedNote => ({
          ...n,
          finger: "p",
          confidence: 1,
          by: "machine",
          placeConfidence: 1,
          alternatives: [],
        }),
      ),
    );
    played.forEach((n, k) => {
      of++;
      if (got[k]?.finger === n.finger) right++;
    });
  }
  expect(of).toBeGreaterThan(1000);
  expect(right / of).toBeGreaterThanOrEqual(0.95);
});

test("picking: nothing in, nothing out", () => {
  expect(pickFingers([])).toEqual([]);
});

testNeeding(
  hasShared("fingered"),
  "the fingered set",
  "picking: a player's own marks where strings are marked too",
  () => {
    let right = 0;
    let of = 0;
    for (const piece of fingeredPieces()) {
      const placed = piece.notes.flatMap((n, k) => {
        const mark = piece.marks[k];
        const string = mark?.string;
        if (string === undefined) return [];
        const fret = n.midi - (piece.instrument.openMidi[6 - string] ?? 0);
        return [{ n, k, string, fret }];
      });
      const got = pickFingers(
        placed.map(
          ({ n, string, fret }): FrettedNote => ({
            ...n,
            string,
            fret,
            finger: "p",
            leftFinger: 0,
            by: "machine",
            placeConfidence: 1,
            alternatives: [],
          }),
        ),
      );
      const sub = {
        ...piece,
        notes: placed.map((p) => p.n),
        marks: placed.map((p) => piece.marks[p.k] ?? {}),
      };
      const a = agreement(sub, got);
      right += a.rightFinger[0];
      of += a.rightFinger[1];
    }
    expect(of).toBeGreaterThan(20);
    expect(right / of).toBeGreaterThan(0.5); // by chance 0.25; the marked notes are the unusual ones
  },
);
