import { readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { readChord } from "../../src/harmony/chord-fit.js";
import type { Voices } from "../../src/harmony/chord-voices.js";
import { chordRow } from "../../src/theory/chord.js";
import { pitchClassName, pitchClassOf } from "../../src/theory/pitch.js";
import { ROOT } from "../helpers/needs.js";

const zeros = (): number[] => new Array<number>(12).fill(0);

/** A block chord: pitch classes lowest first, each upper note of one weight. */
function block(pcs: readonly number[]): Voices[] {
  const inner = zeros();
  for (const pc of pcs.slice(1)) inner[pc] = (inner[pc] ?? 0) + 1 / (pcs.length - 1);
  const bass = { pc: pcs[0] as number, midi: 40, isFirst: true, share: 1, isHeld: false, height: 0 };
  return [{ bass, inner, top: zeros(), low: zeros() }];
}

/** Best reading of notes given as names, lowest first. */
function nameOf(...notes: string[]): string {
  const best = readChord(block(notes.map((n) => pitchClassOf(n) as number)))[0];
  if (!best) return "";
  return (
    pitchClassName(best.rootPc) +
    best.quality +
    (best.bassPc === best.rootPc ? "" : `/${pitchClassName(best.bassPc)}`)
  );
}

// Notes lowest first → the name a player gives. Common practice, no published source; spelled by hand.
for (const [notes, symbol] of [
  ["A G D B G", "G/A"],
  ["A G B G", "G/A"], // its fifth left out, as a picking pattern does
  ["E D A D F", "Dm/E"],
  ["A E A C# E", "A"],
  ["F# A D F#", "D/F#"],
  ["D A C F", "Dm7"],
  ["C E G D E", "Cadd9"],
  ["D A D G", "Dsus4"],
  ["D A D", "D5"],
  ["G B D F", "G7"],
  ["E B D G B E", "Em7"],
  ["B F A D", "Bm7b5"],
  ["D E G# B", "E/D"],
  ["E F A C F", "F/E"],
  ["C E G B", "Cmaj7"],
] as const)
  test(`harmony chord-fit: ${notes} is ${symbol}`, () => expect(nameOf(...notes.split(" "))).toBe(symbol));

test("harmony chord-fit: the fuller reading of G/A stands among the alternatives", () => {
  const pcs = ["A", "G", "D", "B"].map((n) => pitchClassOf(n) as number);
  const names = readChord(block(pcs), undefined, 40).map((r) => `${pitchClassName(r.rootPc)}${r.quality}`);
  expect(names[0]).toBe("G");
  expect(names.some((n) => n.startsWith("A9sus4") || n.startsWith("A7sus4"))).toBe(true);
});

type Db = { chords: Record<string, { suffix: string; positions: { midi: number[] }[] }[]> };

for (const [suffix, quality] of [
  ["major", ""],
  ["minor", "m"],
  ["7", "7"],
  ["m7", "m7"],
  ["maj7", "maj7"],
  ["sus4", "sus4"],
  ["dim7", "dim7"],
] as const)
  test(`harmony chord-fit: chords-db's ${suffix} shapes with the root below are named so in every key`, () => {
    const db = JSON.parse(
      readFileSync(join(ROOT, "node_modules/@tombatossals/chords-db/lib/guitar.json"), "utf8"),
    ) as Db;
    const steps = new Set(chordRow(quality)?.steps);
    let count = 0;
    const wrong: string[] = [];
    for (const [key, entries] of Object.entries(db.chords)) {
      const root = pitchClassOf(key.replace("sharp", "#"));
      for (const position of entries.find((e) => e.suffix === suffix)?.positions ?? []) {
        const midi = [...position.midi].sort((a, b) => a - b);
        const pcs = midi.map((m) => m % 12);
        const own = new Set(pcs.map((pc) => (pc - (root ?? 0) + 12) % 12));
        // Only whole chords over their root: other shapes are other names.
        if (pcs[0] !== root || own.size !== steps.size || [...own].some((s) => !steps.has(s))) continue;
        count++;
        const name = nameOf(...pcs.map((pc) => pitchClassName(pc)));
        if (name !== pitchClassName(root as number) + quality) wrong.push(`${key} ${pcs.join(" ")}: ${name}`);
      }
    }
    expect(count).toBeGreaterThan(10);
    expect(wrong).toEqual([]);
  });
