import type { PlacedNote } from "../grid/grid.js";

export type PickFinger = "p" | "i" | "m" | "a";
/** 0 = open string, 1 index … 4 little finger. */
export type LeftFinger = 0 | 1 | 2 | 3 | 4;

/** A place on the neck that sounds the same pitch; string 1 is the highest, frets count from the capo. */
export type Place = { string: number; fret: number };

/** A placed note with the hands that play it.
 * @property placeConfidence 0…1 that string and fret are right, given that the note is
 * @property alternatives other places, best first, never the chosen one */
export type FrettedNote = PlacedNote & {
  string: number;
  fret: number;
  finger: PickFinger;
  leftFinger: LeftFinger;
  by: "machine" | "hand";
  placeConfidence: number;
  alternatives: Place[];
};

/** The instrument: open strings 6 → 1 as MIDI numbers without the capo, capo fret, highest fret, scale length. */
export type Instrument = {
  openMidi: readonly number[];
  capo: number;
  highestFret: number;
  scaleLengthMm: number;
};

/** What a hand has fixed: the search must keep it. Matched by bar, tick and sounding pitch.
 * @property leftFinger as a player marked it: obeyed but where marks of one moment contradict each other */
export type Lock = {
  bar: number;
  tick: number;
  midi: number;
  string?: number;
  fret?: number;
  finger?: PickFinger;
  leftFinger?: LeftFinger;
};
