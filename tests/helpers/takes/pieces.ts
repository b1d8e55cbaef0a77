// Published music as a study to be played: the pieces of the fingered set, with places and fingers from our own search.
// What the files do not hold is assumed: bars of four quarters, and a tempo at which the quick steps are comfortable. A study ends where its
// piece pauses for a bar, before the next movement. Left out: ornaments, and the one piece in septuplets, which no step of a beat holds.
import { fretNotes } from "../../../src/hands/search.js";
import { type FingeredPiece, fingeredPieces, QUARTER_SEC } from "../hands/fingered.js";
import type { Study, StudyNote } from "./study.js";

const BEATS = 4;
const BAR_TICKS = BEATS * 24;
const MOST_BARS = 24; // of a long piece the beginning: a take as teachers make them
const QUICK_STEP_SEC = 0.2; // a tenth of the steps is shorter than this
const TEMPO_QUARTER_SEC = [0.35, 1.1] as const;

/** The beginning of every piece, without what one hand cannot hold at once. */
export function pieceStudies(): Study[] {
  const pieces = fingeredPieces().filter((piece) => !hasOddSteps(piece));
  return pieces.map(({ file, instrument, notes, marks }) => {
    const played = fretNotes(notes, instrument, {
      locks: notes.flatMap((n, k) => {
        const string = marks[k]?.string;
        return string === undefined ? [] : [{ bar: n.bar, tick: n.tick, midi: n.midi, string }];
      }),
    });
    const taken = new Set<string>();
    const kept: StudyNote[] = [];
    for (const n of played) {
      const key = `${n.bar} ${n.tick} ${n.string}`;
      if (n.grace || taken.has(key)) continue;
      const before = kept[kept.length - 1];
      if (n.bar > MOST_BARS || (before && ticksOf(n) - ticksOf(before) >= BAR_TICKS)) break;
      taken.add(key);
      const { bar, tick, lengthTicks, string, fret, midi, finger, leftFinger } = n;
      kept.push({ bar, tick, lengthTicks, string, fret, midi, finger, leftFinger });
    }
    const barCount = Math.max(...kept.map((n) => n.bar));
    return {
      name: file.replace(/\.json$/, ""),
      title: file,
      tuning: "standard",
      openMidi: instrument.openMidi,
      capo: instrument.capo,
      meter: { beats: BEATS, unit: 4 },
      tempoBpm: Math.round(60 / quarterSec(kept)),
      feel: "straight",
      swingRatio: 1,
      pickupBeats: 0,
      barCount,
      notes: kept,
      chords: [],
      mode: { tonic: "C", mode: "ionian", undecided: [] },
      pattern: { name: "", beats: BEATS, steps: "", stepTicks: 0 },
      patternBars: [],
      form: [],
      groupOfBar: [],
      kinOfBar: [],
    };
  });
}

const ticksOf = (n: { bar: number; tick: number }): number => (n.bar - 1) * BAR_TICKS + n.tick;

function hasOddSteps({ notes }: FingeredPiece): boolean {
  const odd = notes.filter((n) => Math.abs((n.onsetSec / QUARTER_SEC) * 24 - ticksOf(n)) > 0.1);
  return odd.length > notes.length / 10;
}

function quarterSec(notes: readonly StudyNote[]): number {
  const ticks = [...new Set(notes.map(ticksOf))].sort((a, b) => a - b);
  const steps = ticks.slice(1).map((t, k) => t - (ticks[k] as number));
  steps.sort((a, b) => a - b);
  const quick = steps[Math.floor(steps.length / 10)] ?? 24;
  const [least, most] = TEMPO_QUARTER_SEC;
  return Math.min(most, Math.max(least, (QUICK_STEP_SEC * 24) / quick));
}
