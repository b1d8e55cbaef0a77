import type { PlayedNote } from "../notes/played-note.js";

/** `beats` notes of 1/`unit` a bar: 6/8 is { beats: 6, unit: 8 }. Tempo and beats count the unit (eighths in 6/8). */
export type Meter = { beats: number; unit: number };

/** Another way to read the time of the take, such as half or double tempo. */
export type GridReading = { tempoBpm: number; meter: Meter; confidence: number; why: string };

/** Where the beats are.
 * @property beatSec time of every beat from bar 1 beat 1 to one past the end of the last bar; length bars·meter.beats + 1;
 *   with a pick-up, bar 1 is the first full bar and the pick-up's notes have bar 0
 * @property swingRatio long : short of a divided beat, 1 when straight, about 2 for triplet swing
 * @property confidence 0…1 of the tempo and first beat; 1 when the user gave both */
export type Grid = {
  beatSec: number[];
  meter: Meter;
  tempoBpm: number;
  tempoFrom: "user" | "estimated";
  feel: "straight" | "swing";
  swingRatio: number;
  barCount: number;
  pickupBeats: number;
  countInBeats: number;
  confidence: number;
  readings: GridReading[];
};

/** A played note on the grid. bar from 1 (0 = pick-up), tick from 0 within the bar, written length in ticks (rings on by `offsetSec`). */
export type PlacedNote = PlayedNote & { bar: number; tick: number; lengthTicks: number; grace?: boolean };

/** Which bars are the same music: one group number a bar, groupOfBar[bar − 1]; equal numbers are the same music. */
export type BarGroups = { groupOfBar: number[] };
