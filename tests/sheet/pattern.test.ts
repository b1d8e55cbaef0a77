import { describe, expect, test } from "vitest";
import { TICKS_PER_BEAT } from "../../src/base/ticks.js";
import type { PickFinger } from "../../src/hands/fretted.js";
import { sheetFromPitches } from "../../src/pipeline.js";
import { findPattern } from "../../src/sheet/pattern.js";
import type { SheetGrid, SheetNote } from "../../src/sheet/sheet.js";
import { namedStudies } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";

// Right-hand patterns in the manner of M. Giuliani, Studio per la chitarra op. 1, part 1 (1812, public domain): every study is a bar of
// C, a bar of G7 and C again. Written out here by hand, from memory of the opening numbers and from descriptions of them, not from
// the print: the first has i on string 2 and m on string 1 over a bass that moves in quarters (its basses here are ours), the
// others the thumb on the basses and i m a on strings 3 2 1. p i m a and their home strings are common practice, no published source.
const GIULIANI = [
  { name: "block chords under the thumb", beats: 2, stepTicks: 24, steps: "pima pima", half: true },
  { name: "thumb, then three together", beats: 4, stepTicks: 24, steps: "p ima p ima", half: true },
  { name: "upward triplets p i m", beats: 4, stepTicks: 8, steps: "p i m p i m p i m p i m", half: true },
  { name: "p i m a up", beats: 4, stepTicks: 6, steps: "p i m a p i m a p i m a p i m a", half: true },
  { name: "p a m i down", beats: 4, stepTicks: 6, steps: "p a m i p a m i p a m i p a m i", half: true },
  { name: "up and down p i m a m i", beats: 4, stepTicks: 12, steps: "p i m a m i m i", half: false },
] as const;
const STRINGS: Record<PickFinger, number> = { p: 5, i: 3, m: 2, a: 1 };
const C: Record<number, number> = { 5: 3, 3: 0, 2: 1, 1: 0 };
const G7: Record<number, number> = { 5: 2, 3: 0, 2: 0, 1: 1 };
const OPEN: Record<number, number> = { 1: 64, 2: 59, 3: 55, 4: 50, 5: 45, 6: 40 };

const grid = (beats: number, barCount: number): SheetGrid => ({
  tempoBpm: 90,
  tempoFrom: "user",
  meter: { beats, unit: 4 },
  feel: "straight",
  swingRatio: 1,
  beatSec: [],
  firstBeatSec: 0,
  barCount,
  pickupBeats: 0,
  countInBeats: 0,
  confidence: 1,
  readings: [],
});

/** @param stringAt string of a finger at a step, its home string by default */
function written(
  steps: string,
  stepTicks: number,
  barCount: number,
  stringAt: (finger: PickFinger, step: number) => number = (finger) => STRINGS[finger],
): SheetNote[] {
  return Array.from({ length: barCount }, (_, bar) =>
    steps.split(" ").flatMap((letters, k) =>
      [...letters].map((letter): SheetNote => {
        const finger = letter as PickFinger;
        const string = stringAt(finger, k);
        const fret = (bar % 2 === 0 ? C : G7)[string] ?? 0;
        const midi = (OPEN[string] ?? 0) + fret;
        const base = {
          bar: bar + 1,
          tick: k * stepTicks,
          lengthTicks: stepTicks,
          string,
          fret,
          midi,
          finger,
        };
        return { ...base, marks: [], by: "hand", confidence: 1, alternatives: [] };
      }),
    ),
  ).flat();
}

describe("sheet/pattern", () => {
  for (const row of GIULIANI)
    test(`pattern: Giuliani op. 1, ${row.name}`, () => {
      const found = findPattern(written(row.steps, row.stepTicks, 3), grid(row.beats, 3));
      const beats = row.half ? row.beats / 2 : row.beats;
      const want = row.steps
        .split(" ")
        .flatMap((letters, k) => [...letters].map((f) => `${1 + (k * row.stepTicks) / TICKS_PER_BEAT} ${f}`))
        .filter((hit) => Number(hit.split(" ")[0]) < 1 + beats);
      expect(found?.beats).toBe(beats);
      expect(found?.hits.map((h) => `${h.beat} ${h.finger}`).sort()).toEqual(want.sort());
      expect(found?.hits.every((h) => h.string === STRINGS[h.finger])).toBe(true);
      expect(found?.bars).toEqual([1, 2, 3]);
    });

  test("pattern: Giuliani op. 1 no. 1, two fingers over a moving bass", () => {
    const basses = [5, 4, 5, 4];
    const notes = written("pim pim pim pim", 24, 3, (finger, step) =>
      finger === "p" ? (basses[step] as number) : finger === "i" ? 2 : 1,
    );
    const found = findPattern(notes, grid(4, 3));
    expect(found?.beats).toBe(2); // the bass goes 5 4, 5 4
    expect(found?.hits.map((h) => `${h.beat}${h.finger}${h.string}`).sort()).toEqual(
      ["1i2", "1m1", "1p5", "2i2", "2m1", "2p4"].sort(),
    );
    expect(found?.bars).toEqual([1, 2, 3]);
  });

  for (const row of GIULIANI.filter(({ steps }) => !steps.includes("pima")))
    test(`pattern: Giuliani op. 1, ${row.name}, found from pitches alone, the hands unknown`, () => {
      const beatSec = Array.from({ length: 3 * row.beats + 1 }, (_, k) => k * 0.6);
      const notes = written(row.steps, row.stepTicks, 3).map(({ bar, tick, lengthTicks, midi }) => {
        const onsetSec = 0.6 * ((bar - 1) * row.beats + tick / TICKS_PER_BEAT);
        return {
          bar,
          tick,
          lengthTicks,
          midi,
          onsetSec,
          offsetSec: onsetSec + 0.5,
          confidence: 1,
          velocity: 0.6,
        };
      });
      const options = { tuningName: "standard", openMidi: [40, 45, 50, 55, 59, 64], capo: 0 };
      const pitches = {
        notes,
        grid: { ...grid(row.beats, 3), beatSec },
        title: row.name,
        composer: "",
        chords: [],
        form: [],
        repeats: [],
      };
      const sheet = sheetFromPitches(pitches, options);
      const want = row.steps
        .split(" ")
        .flatMap((letters, k) => [...letters].map((f) => `${1 + (k * row.stepTicks) / TICKS_PER_BEAT} ${f}`))
        .filter((hit) => Number(hit.split(" ")[0]) < 1 + (sheet.pattern?.beats ?? 0));
      expect(sheet.pattern?.beats).toBe(row.half ? row.beats / 2 : row.beats);
      expect(sheet.pattern?.hits.map((h) => `${h.beat} ${h.finger}`).sort()).toEqual(want.sort());
      expect(sheet.pattern?.bars).toEqual([1, 2, 3]);
    });

  test("pattern: a bar without one hit and one that breaks off are departures", () => {
    const notes = written("p i m a m i m i", 12, 5).filter(
      (n) => !(n.bar === 2 && n.tick === 36) && !(n.bar === 5 && n.tick > 0),
    );
    const found = findPattern(notes, grid(4, 5));
    expect(found?.bars).toEqual([1, 3, 4]);
    expect(found?.departures.map((d) => d.bar)).toEqual([2, 5]);
    expect(found?.departures[0]?.missing).toEqual([{ beat: 2.5, finger: "a", string: 1 }]);
    expect(found?.departures[1]?.note).toBe("rests from beat 1+1/2 on");
  });

  test("pattern: a chord that changes at the half moves the thumb, not the pattern; an alternating thumb makes a whole bar of it", () => {
    // Two grips a bar, thumb on 5 and on 6, in turned order every second bar; then one grip a bar, thumb on 5 and 4. By hand.
    const halves = written("p i m a p i m a", 12, 4, (finger, step) =>
      finger === "p" && step === 4 ? 6 : STRINGS[finger],
    ).map((n) => ({ ...n, fret: n.tick < 48 ? 0 : 2 }));
    const turned = halves.map((n) => (n.bar % 2 === 1 ? n : { ...n, tick: (n.tick + 48) % 96 }));
    expect(findPattern(turned, grid(4, 4))?.beats).toBe(2);
    const alternating = written("p i m a p i m a", 12, 4, (finger, step) =>
      finger === "p" && step === 4 ? 4 : STRINGS[finger],
    );
    expect(findPattern(alternating, grid(4, 4))?.beats).toBe(4);
  });

  test("pattern: a thumb that goes up from a low root and down from a high one is the same pattern of half a bar", () => {
    // F and Dm a bar, p i m p i m over each: F has its bass on 6 and goes on to 4, Dm its bass on 4 and goes on to 5. By hand.
    const F: Record<number, number> = { 6: 1, 4: 3, 3: 2, 2: 1 };
    const Dm: Record<number, number> = { 5: 0, 4: 0, 3: 2, 2: 3 };
    const thumb = [6, 4, 4, 5];
    const notes = written("p i m p i m p i m p i m", 8, 4, (finger, step) =>
      finger === "p" ? (thumb[step / 3] as number) : STRINGS[finger],
    ).map((n) => ({ ...n, fret: (n.tick < 48 ? F : Dm)[n.string] ?? 0 }));
    const found = findPattern(notes, grid(4, 4));
    expect(found?.beats).toBe(2);
    expect(found?.hits.map((h) => `${h.beat}${h.finger}`)).toHaveLength(6);
    // The same over one grip a bar, the thumb on 6 4 and then on 4 6, is a whole bar of it.
    const whole = written("p i m p i m p i m p i m", 8, 4, (finger, step) =>
      finger === "p" ? ([6, 4, 4, 6][step / 3] as number) : STRINGS[finger],
    ).map((n) => ({ ...n, fret: F[n.string] ?? 0 }));
    expect(findPattern(whole, grid(4, 4))?.beats).toBe(4);
  });

  test("pattern: a thumb that goes on in one bar and stays at the same place of another is none of the pattern", () => {
    // Dm and G over D, then Am and G, p a m i p a m i over each: the thumb 4 5 4 4, then 5 4 6 4. By hand.
    const grips: Record<number, number>[] = [
      { 5: 0, 4: 0, 3: 2, 2: 3, 1: 1 },
      { 6: 3, 4: 0, 3: 0, 2: 0, 1: 3 },
      { 5: 0, 4: 2, 3: 2, 2: 1, 1: 0 },
      { 6: 3, 4: 0, 3: 0, 2: 0, 1: 3 },
    ];
    const bars = (thumbs: readonly (readonly number[])[]): SheetNote[] =>
      thumbs.flatMap((thumb, bar) =>
        written("p a m i p a m i p a m i p a m i", 6, 1, (finger, step) =>
          finger === "p" ? (thumb[step / 4] as number) : STRINGS[finger],
        ).map((n) => {
          const grip = grips[2 * (bar % 2) + (n.tick < 48 ? 0 : 1)];
          return { ...n, bar: bar + 1, fret: grip?.[n.string] ?? 0 };
        }),
      );
    const found = findPattern(
      bars([
        [4, 5, 4, 4],
        [5, 4, 6, 4],
      ]),
      grid(4, 2),
    );
    expect(found?.beats).toBe(2);
    expect(found?.bars).toEqual([1, 2]);
    // Where it goes on in the first half of both bars, and stays in the second, that is the pattern's: a whole bar of it.
    const whole = findPattern(
      bars([
        [4, 5, 4, 4],
        [5, 4, 6, 6],
      ]),
      grid(4, 2),
    );
    expect(whole?.beats).toBe(4);
  });

  test("pattern: none where no two bars agree", () => {
    const rows = ["p i m a", "p . . i a", "p a . . . m", "p . m"];
    const notes = rows.flatMap((steps, bar) =>
      written(steps.replaceAll(".", ""), 12 + 3 * bar, 1).map((n) => ({
        ...n,
        bar: bar + 1,
        tick: n.tick + bar * 7,
      })),
    );
    expect(
      findPattern(
        notes.filter((n) => n.finger !== undefined && n.finger in STRINGS),
        grid(4, 4),
      ),
    ).toBeUndefined();
  });

  test("pattern: none where every bar departs from it in its own way", () => {
    const notes = written("p i m a m i m i", 12, 6).filter((n) => n.tick !== 12 * n.bar);
    expect(findPattern(notes, grid(4, 6))).toBeUndefined();
  });

  test("pattern: found in every named study that has one", () => {
    const withOne = namedStudies().filter((s) => s.patternBars.length >= 0.34 * s.barCount);
    expect(withOne.length).toBeGreaterThan(10);
    for (const study of withOne) {
      const sheet = toSheet(study);
      const found = findPattern(sheet.notes, sheet.grid);
      expect(found?.beats, study.name).toBe(study.pattern.beats);
      expect(found?.bars, study.name).toEqual(study.patternBars);
    }
  });
});
