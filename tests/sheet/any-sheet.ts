/** Sheets of every shape for property tests: tunings, capos, meters, divisions of the beat, ties, marks, pick-ups, repeats, letters. */
import fc from "fast-check";
import { barTicks, compareNotes, isGrace, midiAt } from "../../src/sheet/bar-time.js";
import { MODE_NAMES } from "../../src/sheet/mode-name.js";
import type { NoteMark, Sheet, SheetNote } from "../../src/sheet/sheet.js";
import { TUNINGS } from "../../src/theory/tuning-table.js";

const METERS = [
  [4, 4],
  [3, 4],
  [2, 4],
  [5, 4],
  [6, 8],
  [7, 8],
  [9, 8],
  [12, 8],
  [2, 2],
  [3, 16],
] as const;
/** Every tuning that has a name, and one that has none. */
const TUNED: [string, number[]][] = [
  ...TUNINGS.map(({ name, openMidi }): [string, number[]] => [name, [...openMidi]]),
  ["", [36, 43, 48, 55, 60, 63]],
];
/** Ticks within a beat by how it is divided; the last is any place at all. */
const DIVISIONS = [
  [0],
  [0, 12],
  [0, 6, 12, 18],
  [0, 8, 16],
  [0, 4, 8, 12, 16, 20],
  [0, 3, 6, 9, 12, 15, 18, 21],
  Array.from({ length: 24 }, (_, k) => k),
];
const MARKS: NoteMark[] = ["hammer-on", "pull-off", "slide", "grace", "tie", "let-ring", "dead", "harmonic"];
const SYMBOLS = ["A", "G/A", "Dm7", "F#m7b5/E", "N.C.", "Bb6/9", "Cmaj7", "Esus4"];
const TONICS = ["C", "C#", "Db", "D", "Eb", "E", "F", "F#", "Gb", "G", "Ab", "A", "Bb", "B"];
const words = fc.constantFrom("", "A", "B", "A'", "Intro", "Verse 2", "low tide", "12");

type Shape = { meter: readonly [number, number]; barCount: number; pickup: number };

const anyNote = (shape: Shape) =>
  fc.record({
    bar: fc.integer({ min: shape.pickup > 0 ? 0 : 1, max: Math.max(1, shape.barCount) }),
    beat: fc.nat(shape.meter[0] - 1),
    division: fc.constantFrom(...DIVISIONS, DIVISIONS[1], DIVISIONS[1], DIVISIONS[2]),
    place: fc.nat(23),
    length: fc.option(fc.integer({ min: 1, max: 200 }), { freq: 3 }),
    string: fc.integer({ min: 1, max: 6 }),
    fret: fc.oneof(fc.nat(5), fc.nat(24)),
    finger: fc.option(fc.constantFrom("p", "i", "m", "a"), { freq: 4 }),
    leftFinger: fc.option(fc.constantFrom(0, 1, 2, 3, 4), { freq: 2 }),
    marks: fc.oneof({ weight: 4, arbitrary: fc.constant([]) }, fc.subarray(MARKS, { maxLength: 3 })),
    overBar: fc.nat(9), // one in ten stands tied on the first beat
    unsure: fc.boolean(),
    exact: fc.double({ min: 0, max: 300, noNaN: true }),
  });

/** A valid sheet. */
export const anySheet: fc.Arbitrary<Sheet> = fc
  .record({
    meter: fc.constantFrom(...METERS),
    barCount: fc.integer({ min: 1, max: 9 }),
    pickup: fc.constantFrom(0, 0, 12, 24, 30, 36, 48),
  })
  .chain((shape) =>
    fc
      .record({
        title: words,
        tuning: fc.constantFrom(...TUNED),
        capo: fc.constantFrom(0, 0, 1, 2, 5, 7, 11),
        tempo: fc.integer({ min: 2000, max: 30000 }),
        swing: fc.constantFrom(1, 1, 1.5, 2),
        left: fc.boolean(),
        notes: fc.array(anyNote(shape), { maxLength: 60 }),
        chords: fc.array(
          fc.record({
            bar: fc.integer({ min: 1, max: shape.barCount }),
            beat: fc.nat(shape.meter[0] - 1),
            half: fc.constantFrom(0, 0, 0.5, 1 / 3),
            symbol: fc.constantFrom(...SYMBOLS),
            unsure: fc.boolean(),
          }),
          { maxLength: 8 },
        ),
        labels: fc.array(words, { maxLength: 3 }),
        repeat: fc.option(fc.record({ times: fc.integer({ min: 2, max: 4 }), endings: fc.boolean() })),
        mode: fc.option(
          fc.record({ tonic: fc.constantFrom(...TONICS), mode: fc.constantFrom(...MODE_NAMES) }),
        ),
        pattern: fc.boolean(),
        noRhythm: fc.constantFrom(false, false, false, true),
      })
      .map((parts) => sheetOf(shape, parts)),
  );

// biome-ignore lint/suspicious/noExplicitAny: the record's type is fast-check's and long
function sheetOf(shape: Shape, parts: any): Sheet {
  const [beats, unit] = shape.meter;
  const pickupBeats = Math.min(shape.pickup, beats * 24) / 24;
  const sheet: Sheet = {
    title: parts.title,
    composer: "",
    tuningName: parts.tuning[0] || "own",
    openMidi: parts.tuning[1],
    capo: parts.capo,
    grid: {
      tempoBpm: parts.tempo / 100,
      tempoFrom: parts.left ? "user" : "estimated",
      meter: { beats, unit },
      feel: parts.swing > 1 ? "swing" : "straight",
      swingRatio: parts.swing,
      beatSec: [],
      firstBeatSec: 0,
      barCount: shape.barCount,
      pickupBeats,
      countInBeats: 0,
      confidence: parts.noRhythm ? 0 : 1,
      readings: [],
    },
    notes: [],
    chords: [],
    form: [],
    repeats: [],
    groupOfBar: [],
    findings: [],
    ...(parts.left ? { showLeftHand: true } : {}),
    ...(parts.noRhythm ? { rhythm: "none" as const } : {}),
  };
  const taken = new Set<string>();
  for (const raw of parts.notes) {
    const ticksOfBar = barTicks(sheet, raw.bar);
    const isOverBar = raw.overBar === 0;
    const tick = isOverBar
      ? 0
      : Math.min(raw.beat * 24 + raw.division[raw.place % raw.division.length], ticksOfBar - 1);
    const note: SheetNote = {
      bar: raw.bar,
      tick,
      lengthTicks: raw.length ?? 12,
      string: raw.string,
      fret: raw.fret,
      midi: midiAt(sheet, raw.string, raw.fret),
      marks: MARKS.filter((m) => raw.marks.includes(m) || (isOverBar && m === "tie")),
      ...(raw.finger === null ? {} : { finger: raw.finger }),
      ...(parts.left && raw.leftFinger !== null ? { leftFinger: raw.leftFinger } : {}),
      by: raw.unsure ? "machine" : "hand",
      confidence: raw.unsure ? 0.5 : 1,
      alternatives: [],
    };
    const key = `${note.bar} ${note.tick} ${note.string} ${isGrace(note)}`;
    if (note.midi > 127 || taken.has(key)) continue;
    taken.add(key);
    sheet.notes.push(note);
  }
  sheet.notes.sort(compareNotes);
  const chordPlaces = new Set<string>();
  for (const raw of parts.chords) {
    const beat = 1 + Math.round((raw.beat + raw.half) * 24) / 24;
    if (chordPlaces.has(`${raw.bar} ${beat}`)) continue;
    chordPlaces.add(`${raw.bar} ${beat}`);
    const root = /^[A-G][#b]?/.exec(raw.symbol)?.[0] ?? "";
    sheet.chords.push({
      bar: raw.bar,
      beat,
      symbol: raw.symbol,
      root,
      bass: /\/([A-G][#b]?)$/.exec(raw.symbol)?.[1] ?? root,
      confidence: raw.unsure ? 0.5 : 1,
      alternatives: [],
      by: raw.unsure ? "machine" : "hand",
    });
  }
  sheet.chords.sort((a, b) => a.bar - b.bar || a.beat - b.beat);
  const partLen = Math.ceil(shape.barCount / Math.max(1, parts.labels.length));
  parts.labels.forEach((label: string, k: number) => {
    const bars = Array.from({ length: partLen }, (_, i) => k * partLen + i + 1).filter(
      (b) => b <= shape.barCount,
    );
    if (bars.length > 0) sheet.form.push({ label, bars });
  });
  if (parts.repeat && shape.barCount >= 3)
    sheet.repeats.push({
      fromBar: 1,
      toBar: shape.barCount,
      times: parts.repeat.times,
      endings: parts.repeat.endings
        ? [
            {
              times: Array.from({ length: parts.repeat.times - 1 }, (_, k) => k + 1),
              bars: [shape.barCount - 1],
            },
            { times: [parts.repeat.times], bars: [shape.barCount] },
          ]
        : [],
    });
  if (parts.mode)
    sheet.mode = {
      ...parts.mode,
      confidence: 1,
      candidates: [{ ...parts.mode, probability: 1 }],
      undecided: parts.noRhythm ? [{ between: ["ionian", "mixolydian"], missingDegree: "7" }] : [],
      evidence: ["the bass holds A for 6 of 8 bars: that is home"],
      parentScale: "D major",
      improvise: ["A mixolydian", "A major pentatonic"],
    };
  if (parts.pattern)
    sheet.pattern = {
      beats: Math.min(2, beats),
      hits: [
        { beat: 1, finger: "p", string: 5 },
        { beat: 1 + 2 / 3, finger: "i", string: 3 },
      ].map((h) => ({ ...h, beat: Math.round(h.beat * 24) / 24 })) as never,
      bars: [1],
      departures: [
        { bar: 1, missing: [{ beat: 1.5, finger: "m", string: 2 }], added: [], note: "the last beat holds" },
      ],
    };
  return sheet;
}
