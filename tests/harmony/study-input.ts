import type { Grid, PlacedNote } from "../../src/grid/grid.js";
import { perform } from "../helpers/takes/perform.js";
import type { Study } from "../helpers/takes/study.js";

/** A study as a perfect listener and grid would hand it on: its notes as they ring, its beats, its true chords in time. */
export function studyInput(study: Study): {
  notes: PlacedNote[];
  grid: Grid;
  chords: { startSec: number; endSec: number; symbol: string }[];
} {
  const performance = perform(study, { seed: 1 });
  const notes = performance.notes.map((n) => ({
    onsetSec: n.onsetSec,
    offsetSec: n.offsetSec,
    midi: n.midi,
    confidence: 0.9,
    velocity: n.velocity,
    bar: n.bar,
    tick: n.tick,
    lengthTicks: n.lengthTicks,
  }));
  const beatSec = [...performance.beatSec];
  const grid: Grid = {
    beatSec,
    meter: study.meter,
    tempoBpm: study.tempoBpm,
    tempoFrom: "user",
    feel: study.feel,
    swingRatio: study.swingRatio,
    barCount: study.barCount,
    pickupBeats: study.pickupBeats,
    countInBeats: 0,
    confidence: 1,
    readings: [],
  };
  const chords = study.chords.map((c) => {
    const at = (c.bar - 1) * study.meter.beats + c.beat - 1;
    return { startSec: beatSec[at] ?? 0, endSec: beatSec[at + c.beats] ?? 0, symbol: c.symbol };
  });
  return { notes, grid, chords };
}
