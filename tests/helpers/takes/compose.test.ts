import { noteCollections } from "@musodojo/music-theory-data";
import { Chord, Note } from "tonal";
import { expect, test } from "vitest";
import type { ModeName } from "../../../src/harmony/harmony.js";
import { BARRE_SHAPES } from "./grip-table.js";
import {
  gripOf,
  gripRows,
  hasGrip,
  OPEN_MIDI,
  pitchClassOf,
  type TuningName,
  transposeSymbol,
} from "./grips.js";
import { differencesOfBar, PLANTED_KINDS, plantErrors } from "./mistakes.js";
import { MODE_STEPS } from "./modes.js";
import { PATTERNS } from "./pattern-table.js";
import { plainTab } from "./plain-tab.js";
import { PROGRESSIONS } from "./progression-table.js";
import { namedStudies, studyBySeed, studyNamed } from "./studies.js";
import type { Study } from "./study.js";
import { toSheet } from "./to-sheet.js";

const TUNINGS: readonly TuningName[] = ["standard", "drop-d", "dadgad"];

/** Pitch classes of a symbol by tonal 6.4.3; a foreign bass is added. */
function tonalPcs(symbol: string): Set<number> {
  const { notes } = Chord.get(symbol);
  if (notes.length === 0) throw new Error(`tonal knows no ${symbol}`);
  return new Set(notes.map((n) => Note.chroma(n) as number));
}

test("takes: every grip spells its symbol (tonal 6.4.3)", () => {
  let rows = 0;
  for (const tuning of TUNINGS)
    for (const { symbol } of gripRows(tuning)) {
      const grip = gripOf(symbol, tuning);
      const open = OPEN_MIDI[tuning];
      const sounding = grip.strings.map((s) => (open[6 - s.string] as number) + s.fret);
      const want = tonalPcs(symbol);
      for (const midi of sounding) expect(want, `${tuning} ${symbol}: ${midi % 12}`).toContain(midi % 12);
      const chordPcs = tonalPcs(symbol.split("/")[0] as string);
      const missing = [...chordPcs].filter((pc) => !sounding.some((m) => m % 12 === pc));
      const fifth = (pitchClassOf(grip.root) + 7) % 12;
      expect(
        missing.filter((pc) => pc !== fifth),
        `${tuning} ${symbol} lacks a note`,
      ).toEqual([]);
      rows++;
    }
  expect(rows).toBeGreaterThan(70);
});

test("takes: barre grips spell their symbols in every key (tonal 6.4.3)", () => {
  let spelled = 0;
  for (const root of ["C#", "Eb", "F", "F#", "Ab", "Bb"])
    for (const quality of new Set(BARRE_SHAPES.map((s) => s.quality))) {
      if (!hasGrip(root + quality, "standard")) continue; // it would lie above the ninth fret
      const grip = gripOf(root + quality, "standard");
      const pcs = grip.strings.map((s) => ((OPEN_MIDI.standard[6 - s.string] as number) + s.fret) % 12);
      expect(new Set(pcs), root + quality).toEqual(tonalPcs(root + quality));
      spelled++;
    }
  expect(spelled).toBeGreaterThan(30);
});

test("takes: no grip needs more than four fingers or five frets, and a finger stops one fret (by hand)", () => {
  for (const tuning of TUNINGS)
    for (const { symbol } of gripRows(tuning)) {
      const stopped = gripOf(symbol, tuning).strings.filter((s) => s.fret > 0);
      const frets = stopped.map((s) => s.fret);
      if (frets.length > 0) expect(Math.max(...frets) - Math.min(...frets), symbol).toBeLessThan(4);
      for (const s of stopped) {
        expect(s.leftFinger, symbol).toBeGreaterThan(0);
        for (const o of stopped)
          if (o.leftFinger === s.leftFinger) expect(o.fret, `${symbol} finger`).toBe(s.fret);
      }
    }
});

test("takes: intervals of the modes (@musodojo/music-theory-data 28.0.0)", () => {
  const keyOf: Record<ModeName, keyof typeof noteCollections> = {
    ionian: "ionian",
    dorian: "dorian",
    phrygian: "phrygian",
    lydian: "lydian",
    mixolydian: "mixolydian",
    aeolian: "aeolian",
    locrian: "locrian",
    "harmonic minor": "harmonicMinor",
    "melodic minor": "melodicMinor",
  };
  for (const mode of Object.keys(MODE_STEPS) as ModeName[])
    expect([...MODE_STEPS[mode]], mode).toEqual([...noteCollections[keyOf[mode]].integers]);
});

test("takes: symbols move with the capo (by hand)", () => {
  expect(transposeSymbol("G/B", 3, true)).toBe("Bb/D");
  expect(transposeSymbol("F#m7", 2, false)).toBe("G#m7");
});

function checkStudy(study: Study): void {
  const places = study.notes.map((n) => `${n.bar} ${n.tick} ${n.string}`);
  expect(new Set(places).size, study.name).toBe(places.length);
  for (const n of study.notes) {
    expect(n.midi).toBe((study.openMidi[6 - n.string] as number) + study.capo + n.fret);
    expect(n.fret).toBeGreaterThanOrEqual(0);
    expect(n.fret).toBeLessThanOrEqual(12);
    expect(n.leftFinger === 0).toBe(n.fret === 0);
    expect(n.lengthTicks).toBeGreaterThan(0);
    const beats = n.bar === 0 ? study.pickupBeats : study.meter.beats;
    expect(n.tick + n.lengthTicks).toBeLessThanOrEqual(beats * 24);
  }
  for (let bar = 1; bar <= study.barCount; bar++) {
    expect(
      study.notes.some((n) => n.bar === bar),
      `${study.name} bar ${bar}`,
    ).toBe(true);
    const beats = study.chords.filter((c) => c.bar === bar).reduce((sum, c) => sum + c.beats, 0);
    expect(beats).toBe(study.meter.beats);
  }
}

test("takes: named studies are whole, different, and cover meters, tunings, feels and modes", () => {
  const studies = namedStudies();
  for (const study of studies) checkStudy(study);
  const values = (of: (s: Study) => string): number => new Set(studies.map(of)).size;
  expect(studies.length).toBeGreaterThanOrEqual(12);
  expect(values((s) => s.name)).toBe(studies.length);
  expect(values((s) => s.mode.mode)).toBe(9);
  expect(values((s) => s.tuning)).toBe(3);
  expect(values((s) => `${s.meter.beats}/${s.meter.unit}`)).toBe(5);
  expect(values((s) => s.pattern.name)).toBeGreaterThanOrEqual(15);
  expect(studies.filter((s) => s.feel === "swing").length).toBeGreaterThanOrEqual(2);
  expect(studies.filter((s) => s.capo > 0).length).toBeGreaterThanOrEqual(4);
  const unrepeated = studies.filter((s) => new Set(s.kinOfBar).size === s.barCount);
  expect(unrepeated.length).toBeGreaterThanOrEqual(2);
});

test("takes: the deciding degree sounds in every named study but the one that leaves it open", () => {
  const open = namedStudies().filter((s) => s.mode.undecided.length > 0);
  expect(open.map((s) => [s.name, s.mode.undecided])).toEqual([
    ["half-open-door", [{ between: ["aeolian", "dorian"], missingDegree: "b6" }]],
  ]);
});

test("takes: progressions marked open leave a degree out, whatever pattern plays them", () => {
  const open = PROGRESSIONS.filter((p) => p.open === true).map((p) => p.name);
  expect(open.length).toBeGreaterThanOrEqual(4);
  const seen = new Set<string>();
  for (let seed = 0; seed < 400; seed++) {
    const study = studyBySeed(seed);
    if (study.mode.undecided.length > 0) seen.add(study.mode.undecided.map((u) => u.missingDegree).join(" "));
  }
  expect(seen.size).toBeGreaterThanOrEqual(3);
});

test("takes: two hundred studies by seed are whole, the same again, and use every pattern", () => {
  const patterns = new Set<string>();
  for (let seed = 0; seed < 200; seed++) {
    const study = studyBySeed(seed);
    checkStudy(study);
    patterns.add(study.pattern.name);
    if (seed % 20 === 0) expect(studyBySeed(seed)).toEqual(study);
  }
  expect(patterns.size).toBe(PATTERNS.length);
});

test("takes: a pick-up has bar 0, and its ticks count from its own start", () => {
  const study = studyNamed("gate-latch");
  const before = study.notes.filter((n) => n.bar === 0);
  expect(before.map((n) => n.tick)).toEqual([0, 12]);
  expect(toSheet(study).grid.pickupBeats).toBe(1);
  expect(plainTab(study).split("\n")[0]?.indexOf("|", 2)).toBe(7); // "e|" and two columns of two, after a dash
});

test("takes: groups of bars are the same notes exactly (by the notes)", () => {
  const study = studyNamed("stones-in-the-brook");
  const content = (bar: number): string =>
    JSON.stringify(study.notes.filter((n) => n.bar === bar).map((n) => [n.tick, n.string, n.fret]));
  for (let a = 1; a <= study.barCount; a++)
    for (let b = 1; b <= study.barCount; b++)
      expect(study.groupOfBar[a - 1] === study.groupOfBar[b - 1], `bars ${a} ${b}`).toBe(
        content(a) === content(b),
      );
});

test("takes: a study's sheet holds every note with its place", () => {
  const study = studyNamed("low-tide");
  const sheet = toSheet(study);
  expect(sheet.notes.length).toBe(study.notes.length);
  expect(sheet.notes.map((n) => [n.bar, n.tick, n.string, n.fret]).sort()).toEqual(
    study.notes.map((n) => [n.bar, n.tick, n.string, n.fret]).sort(),
  );
  expect(sheet.pattern?.hits.length).toBeGreaterThan(3);
});

test("takes: planted errors are all there is between the spoiled sheet and the right one", () => {
  const kinds = PLANTED_KINDS.filter((k) => k !== "bar-left-out");
  for (let seed = 0; seed < 20; seed++) {
    const study = studyNamed(seed % 2 === 0 ? "ladder-and-lamp" : "kite-string");
    const { study: spoiled, planted } = plantErrors(study, { seed, kinds });
    expect(planted.map((p) => p.kind)).toEqual(kinds);
    const found = Array.from({ length: study.barCount }, (_, k) =>
      differencesOfBar(
        spoiled.notes.filter((n) => n.bar === k + 1),
        study.notes.filter((n) => n.bar === k + 1),
        k + 1,
      ),
    ).flat();
    const key = (d: object): string => JSON.stringify(d);
    expect(found.map(key).sort()).toEqual(
      planted
        .flatMap((p) => p.differences)
        .map(key)
        .sort(),
    );
    const single = planted.filter((p) => ["wrong-fret", "missing", "added"].includes(p.kind));
    for (const p of single) expect(p.differences.length, p.kind).toBe(1);
  }
});

test("takes: a bar left out of the sheet moves the bars after it", () => {
  const study = studyNamed("low-tide");
  const { study: spoiled, planted } = plantErrors(study, { seed: 3, kinds: ["bar-left-out"] });
  const bar = planted[0]?.bars[0] as number;
  expect(spoiled.barCount).toBe(study.barCount - 1);
  const after = (s: Study, b: number) => s.notes.filter((n) => n.bar === b).map((n) => [n.tick, n.midi]);
  expect(after(spoiled, bar)).toEqual(after(study, bar + 1));
  expect(after(spoiled, bar - 1)).toEqual(after(study, bar - 1));
});
