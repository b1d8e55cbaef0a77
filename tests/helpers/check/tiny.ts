import type { EvidenceMap, Listening, PlayedNote } from "../../../src/notes/played-note.js";
import type { Sheet, SheetNote } from "../../../src/sheet/sheet.js";

const FRAME_SEC = 0.01;

/** A note for a tiny sheet: [bar, tick, string, fret]; standard tuning. */
export type TinyNote = readonly [bar: number, tick: number, string: number, fret: number];
const OPEN = [40, 45, 50, 55, 59, 64];

/** A sheet in 4/4, standard tuning, with the notes given and no recording. */
export function tinySheet(notes: readonly TinyNote[], over: Partial<Sheet> = {}): Sheet {
  const barCount = Math.max(1, ...notes.map((n) => n[0]));
  return {
    title: "tiny",
    composer: "",
    tuningName: "standard",
    openMidi: OPEN,
    capo: 0,
    grid: {
      tempoBpm: 120,
      tempoFrom: "user",
      meter: { beats: 4, unit: 4 },
      feel: "straight",
      swingRatio: 1,
      beatSec: [],
      firstBeatSec: 0,
      barCount,
      pickupBeats: 0,
      countInBeats: 0,
      confidence: 1,
      readings: [],
    },
    notes: notes.map(
      ([bar, tick, string, fret]): SheetNote => ({
        bar,
        tick,
        lengthTicks: 12,
        string,
        fret,
        midi: (OPEN[6 - string] as number) + fret,
        marks: [],
        by: "hand",
        confidence: 1,
        alternatives: [],
      }),
    ),
    chords: [],
    form: [],
    repeats: [],
    groupOfBar: [],
    findings: [],
    ...over,
  };
}

/** A scale-like line of quarter notes, four a bar, that no two bars share: bar b has frets of strings 1 and 2 that rise with b. */
export const risingBars = (bars: number): TinyNote[] =>
  Array.from({ length: bars }, (_, b) =>
    [0, 1, 2, 3].map((k): TinyNote => [b + 1, 24 * k, 1 + (k % 2), 2 * b + k]),
  ).flat();

/** Evidence with a clear onset (and half a second of sounding) at each given note, floor elsewhere; 10 ms a frame, MIDI 36…90. */
export function tinyListening(
  notes: readonly { sec: number; midi: number; logit?: number }[],
  durationSec: number,
): Listening {
  const [lowestMidi, pitchCount] = [36, 55];
  const frameCount = Math.round(durationSec / FRAME_SEC) + 1;
  const onset = new Int8Array(frameCount * pitchCount).fill(-112);
  const sounding = new Int8Array(frameCount * pitchCount).fill(-80);
  const heard: PlayedNote[] = [];
  const candidates: PlayedNote[] = [];
  for (const { sec, midi, logit = 5 } of notes) {
    const frame = Math.round(sec / FRAME_SEC);
    const p = midi - lowestMidi;
    for (const [step, drop] of [
      [-1, 3],
      [0, 0],
      [1, 3],
    ] as const) {
      const cell = (frame + step) * pitchCount + p;
      if (frame + step >= 0 && frame + step < frameCount)
        onset[cell] = Math.max(onset[cell] ?? -112, (logit - drop) * 16);
    }
    for (let k = frame; k < Math.min(frameCount, frame + 50); k++) sounding[k * pitchCount + p] = 48;
    const confidence = 1 / (1 + Math.exp(-logit));
    (logit > 0.4 ? heard : candidates).push({
      onsetSec: sec,
      offsetSec: sec + 0.5,
      midi,
      confidence,
      velocity: 0.7,
    });
  }
  const byTime = (a: PlayedNote, b: PlayedNote): number => a.onsetSec - b.onsetSec || a.midi - b.midi;
  const evidence: EvidenceMap = { frameSec: FRAME_SEC, frameCount, lowestMidi, pitchCount, onset, sounding };
  return {
    notes: heard.sort(byTime),
    candidates: candidates.sort(byTime),
    evidence,
    tuningCents: 0,
    durationSec,
  };
}

/** The tiny sheet played from `startSec` at `beatSec` a beat, bars in the order given (default: as written). */
export function playTiny(
  sheet: Sheet,
  startSec: number,
  beatSec: number,
  order?: readonly number[],
): { sec: number; midi: number; bar: number; tick: number }[] {
  const bars = order ?? Array.from({ length: sheet.grid.barCount }, (_, k) => k + 1);
  return bars.flatMap((bar, k) =>
    sheet.notes
      .filter((n) => n.bar === bar)
      .map((n) => ({ sec: startSec + (k * 4 + n.tick / 24) * beatSec, midi: n.midi, bar, tick: n.tick })),
  );
}
