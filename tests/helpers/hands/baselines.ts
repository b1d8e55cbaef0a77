import type { PlacedNote } from "../../../src/grid/grid.js";
import type { Instrument, Place } from "../../../src/hands/fretted.js";

// What the search is measured against. Both take the notes of an onset from high to low and never use a string twice if they can help it.

const placesOf = (midi: number, { openMidi, capo, highestFret }: Instrument): Place[] =>
  openMidi
    .map((open, k) => ({ string: 6 - k, fret: midi - open - capo }))
    .filter((p) => p.fret >= 0 && p.fret <= highestFret - capo);

function greedy(
  notes: readonly PlacedNote[],
  instrument: Instrument,
  cost: (place: Place, hand: number) => number,
): Place[] {
  const order = notes.map((_, k) => k);
  order.sort((a, b) => notes[a]!.onsetSec - notes[b]!.onsetSec || notes[b]!.midi - notes[a]!.midi || a - b);
  const out: Place[] = notes.map(() => ({ string: 6, fret: 0 }));
  let hand = 1;
  let onset = Number.NaN;
  let used = new Map<number, number>();
  for (const k of order) {
    const note = notes[k]!;
    if (note.onsetSec !== onset) used = new Map();
    onset = note.onsetSec;
    const all = placesOf(note.midi, instrument);
    const free = all.filter((p) => !used.has(p.string) || used.get(p.string) === note.midi);
    const pool = free.length > 0 ? free : all;
    const best = [...pool].sort((a, b) => cost(a, hand) - cost(b, hand) || a.string - b.string)[0];
    if (best === undefined) continue;
    out[k] = best;
    used.set(best.string, note.midi);
    if (best.fret > 0) hand = best.fret;
  }
  return out;
}

/** The lowest fret that is free. */
export const lowestFret = (notes: readonly PlacedNote[], instrument: Instrument): Place[] =>
  greedy(notes, instrument, (p) => p.fret);

/** The place nearest to the last stopped fret; open strings are at hand everywhere. */
export const nearestHand = (notes: readonly PlacedNote[], instrument: Instrument): Place[] =>
  greedy(notes, instrument, (p, hand) => (p.fret === 0 ? 0.5 : Math.abs(p.fret - hand)));
