import { expect, test } from "vitest";
import { homeEvidence } from "../../src/harmony/evidence.js";
import type { ChordSpan } from "../../src/harmony/harmony.js";
import { weighKeys } from "../../src/harmony/mode-model.js";
import { chordPitchClasses, parseChordSymbol } from "../../src/theory/chord.js";
import { pitchClassName } from "../../src/theory/pitch.js";
import { isMinorMode } from "../../src/theory/scale.js";
import { KRUMHANSL_KESSLER, TEMPERLEY_KOSTKA_PAYNE } from "../helpers/tracks/key-profile-table.js";

/** Chords of two seconds each, played over and over, as spans with no bars. */
function loop(symbols: string, times: number): ChordSpan[] {
  const list = Array.from({ length: times }, () => symbols.split(" ")).flat();
  return list.map((symbol, k) => {
    const parts = parseChordSymbol(symbol);
    if (!parts) throw new Error(`no chord: ${symbol}`);
    const { root, bass } = parts;
    return {
      startSec: 2 * k,
      endSec: 2 * k + 2,
      bar: 0,
      beat: 1,
      symbol,
      root,
      bass,
      confidence: 1,
      alternatives: [],
    };
  });
}

/** Tonic and mode of a chord loop whose notes all sound. */
function keyOf(symbols: string): string {
  const chords = loop(symbols, 4);
  const strength = new Array<number>(12).fill(0);
  for (const c of chords)
    for (const pc of chordPitchClasses(c.symbol)) strength[pc] = (strength[pc] ?? 0) + 1;
  const best = weighKeys(
    homeEvidence(
      chords,
      strength.map((x) => (x > 0 ? 1 : 0)),
      strength,
    ),
  )[0];
  return best ? `${pitchClassName(best.tonicPc)} ${best.mode}` : "";
}

// What players call home. Common practice, no published source.
for (const [symbols, key] of [
  ["Dm7 G7 Cmaj7 Cmaj7", "C ionian"], // a dominant seventh leads home, though the second degree begins
  ["Am Dm E7 Am", "A harmonic minor"],
  ["A G D A", "A mixolydian"], // D is only reached from A by going round, not led to by a seventh
  ["Dm7 G7", "D dorian"],
  ["Em F Em Dm", "E phrygian"],
  ["F G Em F", "F lydian"],
  ["Am F G Am", "A aeolian"],
] as const)
  test(`harmony mode-model: ${symbols} over and over is ${key}`, () => expect(keyOf(symbols)).toBe(key));

for (const [name, profiles] of [
  ["Krumhansl & Kessler", KRUMHANSL_KESSLER],
  ["Temperley, Kostka & Payne", TEMPERLEY_KOSTKA_PAYNE],
] as const)
  for (const [kind, profile] of Object.entries(profiles))
    test(`harmony mode-model: the ${kind} profile of ${name}, on every tonic, is heard as ${kind} on that tonic once its tonic triad sounds`, () => {
      for (let tonic = 0; tonic < 12; tonic++) {
        const strength = profile.map((_, pc) => profile[(pc - tonic + 12) % 12] ?? 0);
        // The seven strongest notes are those that belong.
        const floor = [...strength].sort((a, b) => b - a)[6] ?? 0;
        const presence = strength.map((x) => (x >= floor ? 1 : 0));
        const triad = pitchClassName(tonic) + (kind === "minor" ? "m" : "");
        const best = weighKeys(homeEvidence(loop(triad, 2), presence, strength))[0];
        expect([tonic, best?.tonicPc, best && isMinorMode(best.mode)]).toEqual([
          tonic,
          tonic,
          kind === "minor",
        ]);
      }
    });

test("harmony mode-model: the mode of the rest of a recording tips a stretch that leaves it open", () => {
  const chords = loop("Am G", 4);
  const presence = new Array<number>(12).fill(0);
  for (const c of chords) for (const pc of chordPitchClasses(c.symbol)) presence[pc] = 1;
  const e = homeEvidence(chords, presence, presence);
  const chance = (mode: "dorian" | "phrygian", movedToA: number): number => {
    const moved = Array.from({ length: 12 }, (_, pc) => (pc === 9 ? movedToA : 0));
    const found = weighKeys(e, { elsewhere: { mode, moved } });
    return found.find((k) => k.tonicPc === 9 && k.mode === "dorian")?.probability ?? 0;
  };
  expect(chance("dorian", 0)).toBeGreaterThan(chance("phrygian", 0));
  expect(chance("dorian", 1)).toBeGreaterThan(chance("dorian", 0));
  expect(chance("phrygian", 1)).toBeLessThan(chance("dorian", 0));
});
