// Puts every note on its step and gives it a length that reads well.
// In: played notes and the grid. Out: placed notes, by bar, tick and pitch; what comes before the music is left out.
// Method: events on steps by steps.ts, the same that the grid was laid with; a roll or a grace note stands on the step
// of its event; a note is written to the step where its string, or failing that its own sound, ends. Swing is written as
// straight eighths. Cannot do: tell strings; the fretboard search may lengthen or shorten what it learns of them.

import { TICKS_PER_BEAT } from "../base/ticks.js";
import type { PlayedNote } from "../notes/played-note.js";
import { closestStepSec } from "./beats.js";
import { beatIdxAt, beatLenSec, rawPosition, unswing } from "./clock.js";
import { gatherEvents } from "./events.js";
import type { Grid, PlacedNote } from "./grid.js";
import { chooseSteps, divisionsFor } from "./steps.js";

const PLACE_DEFAULTS = Object.freeze({
  leadBeats: 0.3, // a note this much before the pick-up or bar 1 is none of the music
  sameStringShare: 0.6, // a string is believed from this share of its timbre on
});

type Spot = { idx: number; tick: number; grace: boolean };

/** Places notes.
 * @returns by bar, tick, midi; `lengthTicks` ≥ 1, never beyond the bar line */
export function placeNotes(
  notes: readonly PlayedNote[],
  grid: Grid,
  options: { gridDivision?: 8 | 12 | 16 | undefined } = {},
): PlacedNote[] {
  const { beatSec, meter, swingRatio } = grid;
  const periodSec = 60 / grid.tempoBpm;
  const firstPosition = -grid.pickupBeats;
  const events = gatherEvents(notes, closestStepSec(periodSec, meter.unit)).filter(
    (e) => rawPosition(beatSec, e.sec) >= firstPosition - PLACE_DEFAULTS.leadBeats,
  );
  const positions = events.map((e) => unswing(rawPosition(beatSec, e.sec), swingRatio));
  const ticks = chooseSteps({
    positions,
    beatLenSec: events.map((e) => beatLenSec(beatSec, beatIdxAt(beatSec, e.sec))),
    beatsPerBar: meter.beats,
    divisions: divisionsFor(meter.unit, options.gridDivision),
  });
  const firstTick = firstPosition * TICKS_PER_BEAT;
  const lastTick = grid.barCount * meter.beats * TICKS_PER_BEAT;
  const spots: Spot[] = events.flatMap((e, k) => {
    const tick = Math.min(lastTick - 1, Math.max(firstTick, ticks[k] as number));
    return e.noteIdxs.map((idx) => ({ idx, tick, grace: e.graceIdxs.includes(idx) }));
  });
  const lengths = writtenLengths(notes, spots, grid);
  const barTicks = meter.beats * TICKS_PER_BEAT;
  const placed = spots.map((spot, k): PlacedNote => {
    const note = notes[spot.idx] as PlayedNote;
    const bar = spot.tick < 0 ? 0 : Math.floor(spot.tick / barTicks) + 1;
    const tick = spot.tick < 0 ? spot.tick - firstTick : spot.tick - (bar - 1) * barTicks;
    return { ...note, bar, tick, lengthTicks: lengths[k] as number, ...(spot.grace ? { grace: true } : {}) };
  });
  return placed.sort(
    (a, b) => a.bar - b.bar || a.tick - b.tick || a.midi - b.midi || a.onsetSec - b.onsetSec,
  );
}

/** The string a note is surely on, by its timbre. */
function likelyString(note: PlayedNote): number | undefined {
  const shares = note.stringShares;
  if (shares === undefined) return undefined;
  let best = 0;
  shares.forEach((s, k) => {
    if (s > (shares[best] as number)) best = k;
  });
  return (shares[best] as number) >= PLACE_DEFAULTS.sameStringShare ? best + 1 : undefined;
}

/** Lengths: to the next note of the same pitch or string, or to the step nearest the end of the sound, or to the bar line. */
function writtenLengths(notes: readonly PlayedNote[], spots: readonly Spot[], grid: Grid): number[] {
  const { beatSec, meter, swingRatio, pickupBeats } = grid;
  const barTicks = meter.beats * TICKS_PER_BEAT;
  const stepTicks = [...new Set(spots.map((s) => s.tick))].sort((a, b) => a - b);
  const stepOf = new Map(stepTicks.map((tick, s) => [tick, s]));
  const order = spots.map((_, k) => k).sort((a, b) => (spots[a] as Spot).tick - (spots[b] as Spot).tick);
  const lengths = new Array<number>(spots.length).fill(1);
  order.forEach((k, rank) => {
    const spot = spots[k] as Spot;
    const note = notes[spot.idx] as PlayedNote;
    const string = likelyString(note);
    const barEnd = spot.tick < 0 ? 0 : (Math.floor(spot.tick / barTicks) + 1) * barTicks;
    const endPosition = unswing(rawPosition(beatSec, note.offsetSec), swingRatio) * TICKS_PER_BEAT;
    // Steps at which the note may be written to end: later events of the bar, and the bar line.
    let end = barEnd;
    let distance = Math.abs(endPosition - barEnd);
    if (endPosition < barEnd)
      for (let s = (stepOf.get(spot.tick) as number) + 1; s < stepTicks.length; s++) {
        const step = stepTicks[s] as number;
        if (step >= barEnd) break;
        const d = Math.abs(endPosition - step);
        if (d < distance - 1e-9) {
          distance = d;
          end = step;
        }
      }
    for (let r = rank + 1; r < order.length; r++) {
      const later = spots[order[r] as number] as Spot;
      if (later.tick >= end) break;
      if (later.tick === spot.tick || later.grace) continue;
      const other = notes[later.idx] as PlayedNote;
      if (other.midi === note.midi || (string !== undefined && likelyString(other) === string)) {
        end = later.tick;
        break;
      }
    }
    lengths[k] = Math.max(1, Math.min(end, barEnd) - Math.max(spot.tick, -pickupBeats * TICKS_PER_BEAT));
  });
  return lengths;
}
