import { expect, test } from "vitest";
import type { PlacedNote } from "../../src/grid/grid.js";
import { HAND_WEIGHTS } from "../../src/hands/cost-table.js";
import type { FrettedNote, Instrument } from "../../src/hands/fretted.js";
import { neckMm } from "../../src/hands/reach.js";
import { fretNotes, rangeFindings, refretBar } from "../../src/hands/search.js";
import { placesOf } from "../../src/hands/search-events.js";
import { gripsFor } from "../../src/hands/search-grips.js";
import { agreement } from "../helpers/hands/agreement.js";
import { type FingeredPiece, fingeredPieces } from "../helpers/hands/fingered.js";
import { hear, instrumentOf, scoreHeard } from "../helpers/hands/played.js";
import { hasShared, testNeeding } from "../helpers/needs.js";
import { namedStudies, studyNamed } from "../helpers/takes/studies.js";

const GUITAR: Instrument = {
  openMidi: [40, 45, 50, 55, 59, 64],
  capo: 0,
  highestFret: 19,
  scaleLengthMm: 650,
};

/** Notes as rows of tick, pitch and length in ticks; half a second a beat, 4/4. */
function line(rows: readonly (readonly [number, number, number])[], beatSec = 0.5): PlacedNote[] {
  return rows.map(([tick, midi, lengthTicks]) => ({
    onsetSec: (tick * beatSec) / 24,
    offsetSec: ((tick + lengthTicks) * beatSec) / 24,
    midi,
    confidence: 1,
    velocity: 0.5,
    bar: Math.floor(tick / 96) + 1,
    tick: tick % 96,
    lengthTicks,
  }));
}

const shape = (notes: readonly FrettedNote[]): string => notes.map((n) => `${n.string}/${n.fret}`).join(" ");

for (const [name, midis, want] of [
  ["C major, open position", [48, 52, 55, 60, 64], "5/3 4/2 3/0 2/1 1/0"],
  ["G major", [43, 47, 50, 55, 59, 67], "6/3 5/2 4/0 3/0 2/0 1/3"],
  ["E minor", [40, 47, 52, 55, 59, 64], "6/0 5/2 4/2 3/0 2/0 1/0"],
  ["F major barre", [41, 48, 53, 57, 60, 65], "6/1 5/3 4/3 3/2 2/1 1/1"],
  ["A major", [45, 52, 57, 61, 64], "5/0 4/2 3/2 2/2 1/0"],
  ["D over F sharp", [42, 57, 62, 66], "6/2 3/2 2/3 1/2"],
] as const)
  test(`search: ${name} comes out as in any chord book (common practice, no published source)`, () => {
    const chord = line(midis.map((m) => [0, m, 48] as const));
    expect(shape(fretNotes(chord, GUITAR))).toBe(want);
  });

test("search: an arpeggio left ringing keeps every note on its own string", () => {
  const rows = [48, 52, 55, 60, 64, 60, 55, 52].map((m, k) => [k * 12, m, 96 - k * 12] as const);
  expect(shape(fretNotes(line(rows), GUITAR))).toBe("5/3 4/2 3/0 2/1 1/0 2/1 3/0 4/2");
});

test("search: left fingers of an open C and F follow method books", () => {
  const c = fretNotes(line([48, 52, 55, 60, 64].map((m) => [0, m, 48] as const)), GUITAR);
  expect(c.map((n) => n.leftFinger)).toEqual([3, 2, 0, 1, 0]);
});

test("search: sounding pitch counts the capo, frets count from it", () => {
  const g = fretNotes(line([50, 54, 57, 62, 66].map((m) => [0, m, 48] as const)), { ...GUITAR, capo: 2 });
  expect(shape(g)).toBe("5/3 4/2 3/0 2/1 1/0"); // a C shape at capo 2 sounds D
});

for (const [tuning, openMidi, midis, want] of [
  ["drop D", [38, 45, 50, 55, 59, 64], [38, 45, 50, 57, 62, 66], "6/0 5/0 4/0 3/2 2/3 1/2"],
  ["DADGAD", [38, 45, 50, 55, 57, 62], [38, 45, 50, 57, 62], "6/0 5/0 4/0 2/0 1/0"],
] as const)
  test(`search: ${tuning} uses its open strings`, () => {
    const chord = line(midis.map((m) => [0, m, 48] as const));
    expect(shape(fretNotes(chord, { ...GUITAR, openMidi }))).toBe(want);
  });

test("search: a string stays taken for the longer of two voices that share a note (by hand)", () => {
  const figure = [
    [0, 59, 6],
    [0, 59, 24],
    [6, 62, 6],
    [12, 64, 6],
    [18, 62, 6],
  ] as const;
  const [short, long, above] = fretNotes(line(figure), GUITAR);
  expect([short?.string, long?.string]).toEqual([3, 3]);
  expect(above?.string).toBe(2);
});

test("search: a broken chord that comes back lies across strings, written short as it may be (by hand)", () => {
  const rows = [40, 59, 62, 68, 62, 59, 52, 59, 62, 68, 62, 59].map((m, k) => [k * 6, m, 6] as const);
  const strings = fretNotes(line(rows), GUITAR).map((n) => n.string);
  expect(strings.slice(1, 6)).toEqual([3, 2, 1, 2, 3]); // on 2/0 each b would cut the d beside it on 2/3
});

for (const [leftFinger, want] of [
  [0, "1/0"],
  [4, "2/5"],
] as const)
  test(`search: a player's left finger ${leftFinger} over an e decides where it lies (by hand)`, () => {
    const rows = [
      [0, 62, 24],
      [24, 64, 24],
      [48, 60, 24],
    ] as const;
    const locks = [{ bar: 1, tick: 24, midi: 64, leftFinger }];
    const marked = fretNotes(line(rows), GUITAR, { locks })[1];
    expect(`${marked?.string}/${marked?.fret}`).toBe(want);
    expect(marked).toMatchObject({ leftFinger, by: "machine" });
  });

test("search: a locked place is kept and steers the notes around it", () => {
  const rows = [
    [0, 60, 24],
    [24, 62, 24],
    [48, 64, 24],
    [72, 65, 24],
  ] as const;
  const free = fretNotes(line(rows, 0.12), GUITAR);
  expect(shape(free)).toBe("2/1 2/3 1/0 1/1");
  const locks = [{ bar: 1, tick: 24, midi: 62, string: 4, fret: 12 }];
  const held = fretNotes(line(rows, 0.12), GUITAR, { locks });
  expect(held[1]).toMatchObject({ string: 4, fret: 12, by: "hand", placeConfidence: 1 });
  expect(held[0]?.fret).toBeGreaterThan(5);
  expect(held.filter((n) => n.by === "hand").length).toBe(1);
});

test("search: a lock against the pitch is kept all the same", () => {
  const locks = [{ bar: 1, tick: 0, midi: 60, string: 6, fret: 3 }];
  expect(fretNotes(line([[0, 60, 24]]), GUITAR, { locks })[0]).toMatchObject({
    string: 6,
    fret: 3,
    by: "hand",
  });
});

test("search: sure string evidence overrules habit where it is trusted", () => {
  const notes = line([[0, 64, 24]]);
  const shares = [0.02, 0.9, 0.02, 0.02, 0.02, 0.02];
  const heard = fretNotes([{ ...notes[0]!, stringShares: shares }], GUITAR, { weights: { share: 0.8 } });
  expect(shape(fretNotes(notes, GUITAR))).toBe("1/0");
  expect(shape(heard)).toBe("2/5");
});

test("search: pitches beyond the neck get the nearest place, no confidence and a finding", () => {
  const notes = line([
    [0, 38, 24],
    [24, 95, 24],
  ]);
  const fretted = fretNotes(notes, GUITAR);
  expect(fretted.map((n) => [n.string, n.fret, n.placeConfidence])).toEqual([
    [6, 0, 0],
    [1, 31, 0],
  ]);
  expect(rangeFindings(notes, GUITAR).map((f) => f.rule)).toEqual([
    "below-lowest-string",
    "above-highest-fret",
  ]);
  expect(rangeFindings(line([[0, 64, 24]]), GUITAR)).toEqual([]);
});

test("search: alternatives never hold the chosen place, and all sound the pitch", () => {
  const study = studyNamed("mixolydian-over-a");
  const { notes, instrument } = hear(study);
  for (const n of fretNotes(notes, instrument)) {
    const all = [n, ...n.alternatives];
    expect(new Set(all.map((p) => p.string)).size).toBe(all.length);
    for (const p of all)
      expect((instrument.openMidi[6 - p.string] as number) + instrument.capo + p.fret).toBe(n.midi);
    expect(n.placeConfidence).toBeGreaterThanOrEqual(0);
    expect(n.placeConfidence).toBeLessThanOrEqual(1);
  }
});

test("search: nothing in, nothing out; same notes, same result; order of notes is kept", () => {
  expect(fretNotes([], GUITAR)).toEqual([]);
  const { notes, instrument } = hear(studyNamed("low-tide"));
  const back = [...notes].reverse();
  const forth = fretNotes(notes, instrument);
  expect(fretNotes(notes, instrument)).toEqual(forth);
  expect(fretNotes(back, instrument).map((n) => n.midi)).toEqual(back.map((n) => n.midi));
});

test("search: one bar decided again under a lock changes no other bar, and takes milliseconds", () => {
  const study = studyNamed("ladder-and-lamp");
  const heard = hear(study);
  const before = fretNotes(heard.notes, heard.instrument);
  const target = before.find((n) => n.bar === 3 && n.alternatives.length > 0) as FrettedNote;
  const other = target.alternatives[0]!;
  const lock = { bar: 3, tick: target.tick, midi: target.midi, ...other };
  const after = refretBar(before, 3, heard.instrument, { locks: [lock] });
  expect(after.length).toBe(before.length);
  after.forEach((n, k) => {
    if (n.bar !== 3) expect(n).toEqual(before[k]);
    if (n.bar === 3 && n.tick === target.tick && n.midi === target.midi)
      expect(n).toMatchObject({ ...other, by: "hand" });
  });
});

/** Right of all notes over the named studies. */
function overStudies(options: Parameters<typeof hear>[1]): { place: number; pick: number } {
  const sum = [0, 0, 0, 0];
  for (const study of namedStudies()) {
    const heard = hear(study, options);
    const { place, pick } = scoreHeard(
      heard,
      fretNotes(heard.notes, heard.instrument, { groupOfBar: study.groupOfBar }),
    );
    [...place, ...pick].forEach((x, k) => {
      sum[k] = (sum[k] ?? 0) + x;
    });
  }
  const [a = 0, b = 1, c = 0, d = 1] = sum;
  return { place: a / b, pick: c / d };
}

for (const [name, options] of [
  ["as played", {}],
  [
    "with strings heard 70 % right, missed and invented notes",
    { sharesRight: 0.7, missing: 0.03, extra: 0.02, offsetJitterSec: 0.3 },
  ],
] as const)
  test(`search: composed studies ${name}: string and fret right for 0.95 of notes, p-i-m-a for 0.95`, () => {
    const { place, pick } = overStudies(options);
    expect(place).toBeGreaterThanOrEqual(0.95);
    expect(pick).toBeGreaterThanOrEqual(0.95);
  });

test("search: never two notes on one string at once, in any tuning of the named studies", () => {
  for (const study of namedStudies()) {
    const { notes } = hear(study);
    const at = new Set<string>();
    for (const n of fretNotes(notes, instrumentOf(study))) {
      const key = `${study.name} ${n.bar} ${n.tick} ${n.string}`;
      expect(at.has(key), key).toBe(false);
      at.add(key);
    }
  }
});

/** Onsets of up to six pitches that four fingers can't hold in any place. */
function onsetsWithoutGrip(piece: FingeredPiece): number {
  const mm = neckMm(piece.instrument);
  const pitches = new Map<number, Set<number>>();
  for (const n of piece.notes)
    if (n.grace !== true) pitches.set(n.onsetSec, (pitches.get(n.onsetSec) ?? new Set<number>()).add(n.midi));
  return [...pitches.values()].filter(
    (set) =>
      set.size <= 6 &&
      gripsFor(
        [...set].map((midi) => placesOf(midi, piece.instrument)),
        mm,
        HAND_WEIGHTS,
      ).length === 0,
  ).length;
}

testNeeding(hasShared("fingered"), "the fingered set", "search: players' marks on Mutopia pieces", () => {
  let strings = [0, 0];
  let open = [0, 0];
  let unheld = 0;
  let impossible = 0;
  for (const piece of fingeredPieces()) {
    const a = agreement(piece, fretNotes(piece.notes, piece.instrument));
    unheld += a.unplayable[0] + a.twoOnString;
    impossible += onsetsWithoutGrip(piece);
    strings = [strings[0]! + a.strings[0], strings[1]! + a.strings[1]];
    open = [open[0]! + a.open[0], open[1]! + a.open[1]];
  }
  expect(strings[1]).toBeGreaterThan(200);
  expect(unheld).toBe(impossible); // ornaments written at one place: every onset that a hand can hold is held
  expect(open[0]! / open[1]!).toBeGreaterThanOrEqual(0.93);
});
