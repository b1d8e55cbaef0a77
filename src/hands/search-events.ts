import type { PlacedNote } from "../grid/grid.js";
import type { Instrument, Lock } from "./fretted.js";

// What the search sees: pitches that begin together, where each may lie, and what speaks for each string.

/** Notes that begin together, and a second onset of a pitch at the same tick (two voices that share a note) with its first.
 * @property onsetSec of the earliest @property noteIdx lowest pitch first */
export type Event = { onsetSec: number; noteIdx: number[]; bar: number; tick: number };

/** A note as the search needs it.
 * @property endSec until when it rings, by any voice that it doubles
 * @property heldSec until when a broken chord holds it: the same pitch comes back then, and nothing stepped into its place
 * @property places where it may lie, lowest fret first; a single one when a hand has locked it
 * @property evidence cost of strings 1…6, not weighted: −ln(share) */
export type SearchNote = {
  midi: number;
  onsetSec: number;
  endSec: number;
  heldSec: number;
  bar: number;
  tick: number;
  lengthTicks: number;
  confidence: number;
  places: readonly { string: number; fret: number }[];
  evidence: Float64Array;
  locked: Lock | undefined;
  /** Index of the note that this one doubles in unison. */
  twinOf: number | undefined;
};

const LEAST_SHARE = 0.02; // one frame's net is never surer than this that a string is out of the question

/** Where a sounding pitch can be played: string 1…6 and fret from the capo. */
export function placesOf(midi: number, instrument: Instrument): { string: number; fret: number }[] {
  const top = instrument.highestFret - instrument.capo;
  const places: { string: number; fret: number }[] = [];
  instrument.openMidi.forEach((open, k) => {
    const fret = midi - open - instrument.capo;
    if (fret >= 0 && fret <= top) places.push({ string: 6 - k, fret });
  });
  return places.sort((a, b) => a.fret - b.fret || b.string - a.string);
}

/** For a pitch that the neck lacks: string 6 open below it, string 1 beyond the highest fret above it. */
function nearestPlace(midi: number, instrument: Instrument): { string: number; fret: number } {
  const open = instrument.openMidi[5] ?? 64;
  const fret = midi - open - instrument.capo;
  return fret > 0 ? { string: 1, fret } : { string: 6, fret: 0 };
}

export const lockKey = (bar: number, tick: number, midi: number): string => `${bar}|${tick}|${midi}`;

/** Places under a lock: the locked string and fret, whatever the pitch says of them. */
function lockedPlaces(
  places: { string: number; fret: number }[],
  midi: number,
  lock: Lock,
  instrument: Instrument,
): { string: number; fret: number }[] {
  const fits = places.filter(
    (p) =>
      (lock.string === undefined || p.string === lock.string) &&
      (lock.fret === undefined || p.fret === lock.fret),
  );
  const { leftFinger } = lock;
  const pressed = leftFinger === undefined ? fits : fits.filter((p) => (p.fret === 0) === (leftFinger === 0));
  if (pressed.length > 0) return pressed;
  if (fits.length > 0) return fits;
  if (lock.string === undefined) return places;
  const fret = lock.fret ?? midi - (instrument.openMidi[6 - lock.string] ?? 0) - instrument.capo;
  return [{ string: lock.string, fret: Math.max(0, fret) }];
}

export function searchNotes(
  notes: readonly PlacedNote[],
  instrument: Instrument,
  locks: readonly Lock[],
): SearchNote[] {
  const lockOf = new Map(locks.map((l) => [lockKey(l.bar, l.tick, l.midi), l]));
  const byMidi = new Map<number, { string: number; fret: number }[]>();
  return notes.map((note) => {
    let places = byMidi.get(note.midi);
    if (places === undefined) {
      places = placesOf(note.midi, instrument);
      byMidi.set(note.midi, places);
    }
    const locked = lockOf.get(lockKey(note.bar, note.tick, note.midi));
    const open = locked === undefined ? places : lockedPlaces(places, note.midi, locked, instrument);
    const evidence = new Float64Array(6);
    note.stringShares?.forEach((share, k) => {
      evidence[k] = -Math.log(Math.max(LEAST_SHARE, share));
    });
    return {
      midi: note.midi,
      onsetSec: note.onsetSec,
      endSec: note.grace === true ? note.onsetSec : Math.max(note.offsetSec, note.onsetSec), // it gives way to its main note
      heldSec: 0,
      bar: note.bar,
      tick: note.tick,
      lengthTicks: note.lengthTicks,
      confidence: note.confidence,
      places: open.length > 0 ? open : [nearestPlace(note.midi, instrument)],
      evidence,
      locked,
      twinOf: undefined,
    };
  });
}

const UNISON_SEC = 0.05; // a string struck again later than this is no unison
const ROLL_SEC = 0.25; // a rolled chord is one grip up to this

/** Groups notes into events by bar and tick, and by time within them; grace notes stand alone. Marks unison twins.
 * @param notes in any order @returns events by time */
export function eventsOf(notes: SearchNote[], graceIdx: ReadonlySet<number>): Event[] {
  const order = notes.map((_, k) => k);
  const at = (k: number): SearchNote => notes[k] as SearchNote;
  order.sort(
    (a, b) =>
      at(a).bar - at(b).bar ||
      at(a).tick - at(b).tick ||
      Number(graceIdx.has(b)) - Number(graceIdx.has(a)) ||
      at(a).midi - at(b).midi ||
      at(a).onsetSec - at(b).onsetSec ||
      a - b,
  );
  const events: Event[] = [];
  let open: Event | undefined;
  for (const k of order) {
    const note = at(k);
    const lastIdx = open?.noteIdx[open.noteIdx.length - 1];
    const joins =
      open !== undefined &&
      open.bar === note.bar &&
      open.tick === note.tick &&
      !graceIdx.has(k) &&
      (lastIdx === undefined || !graceIdx.has(lastIdx)) &&
      Math.abs(note.onsetSec - open.onsetSec) <= ROLL_SEC;
    if (!joins || open === undefined) {
      open = { onsetSec: note.onsetSec, noteIdx: [k], bar: note.bar, tick: note.tick };
      events.push(open);
      continue;
    }
    open.onsetSec = Math.min(open.onsetSec, note.onsetSec);
    const twin = open.noteIdx.find((j) => at(j).midi === note.midi);
    if (twin !== undefined && sameString(at(twin), note)) {
      note.twinOf = twin;
      at(twin).endSec = Math.max(at(twin).endSec, note.endSec);
    } else open.noteIdx.push(k);
  }
  events.sort((a, b) => a.onsetSec - b.onsetSec || a.bar - b.bar || a.tick - b.tick);
  holdReturns(notes, events);
  return events;
}

const RETURN_SEC = 1.5; // a broken chord comes round within this
const FIGURE_TOL_SEC = 0.06; // ends are heard no closer than this
const STEP = 2; // semitones: a note this near takes the other's place in a line

/** Sets heldSec of notes whose pitch comes back soon without a step away in between: fingers stay down for them. Only of notes
 * written no longer than to the next: a longer one says itself when it ends. */
function holdReturns(notes: readonly SearchNote[], events: readonly Event[]): void {
  const at = (k: number): SearchNote => notes[k] as SearchNote;
  events.forEach((event, e) => {
    for (const k of event.noteIdx) {
      const note = at(k);
      const follows = events[e + 1]?.onsetSec ?? 0;
      if (note.endSec > follows + FIGURE_TOL_SEC) continue;
      for (let f = e + 1; f < events.length; f++) {
        const next = events[f] as Event;
        if (next.onsetSec > note.onsetSec + RETURN_SEC) break;
        const back = next.noteIdx.some((j) => at(j).midi === note.midi);
        if (back) {
          if (f > e + 1) note.heldSec = next.onsetSec;
          break;
        }
        if (next.noteIdx.some((j) => Math.abs(at(j).midi - note.midi) <= STEP)) break;
      }
    }
  });
}

/** Two notes of one pitch at once are two voices that share a string, unless a hand put them on two or they are alike in all,
 * as two strings struck together are. */
function sameString(a: SearchNote, b: SearchNote): boolean {
  if (a.lengthTicks === b.lengthTicks && Math.abs(a.onsetSec - b.onsetSec) <= UNISON_SEC) return false;
  const one = a.locked?.string;
  const two = b.locked?.string;
  if (two !== undefined && one === undefined) return false;
  return one === undefined || two === undefined || one === two;
}
