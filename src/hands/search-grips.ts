import type { HandWeights } from "./cost-table.js";
import { type Fingering, fingeringsOf, type GripPlace } from "./fingerings.js";
import type { Event, SearchNote } from "./search-events.js";

// Candidates of one event: where its notes may lie and which fingers stop them.

/** One way to play an event. Arrays run along the event's notes.
 * @property position fret of the index finger, −1 when nothing is stopped @property cost without evidence
 * @property presses stopped notes @property stringMask bit s for string s */
export type Grip = {
  strings: readonly number[];
  frets: readonly number[];
  fingers: readonly number[];
  position: number;
  cost: number;
  stringMask: number;
  /** Smallest finger number used, 9 when nothing is stopped. */
  lowestFinger: number;
  /** The barre: its fret (0 for none) and its outer strings. */
  barreFret: number;
  barreFrom: number;
  barreTo: number;
  /** −1 for notes that no grip could hold with the others: played by nobody, placed afterwards. */
  left: readonly number[];
};

export const MOST_GRIPS = 40; // candidates of one event, cheapest first
const MOST_PER_PLACES = 6; // fingerings of one choice of places
const MARKED_PER_PLACES = 40; // where a finger is marked, its fingerings must be among them
const AGAINST_MARK = 40; // cost of another finger than the marked one, beyond any note that stops: only marks of one moment that contradict each other are left
const LOW_STRING = 4; // the thumb's highest string
const HIGH_FRET = 9; // from here a hand reaches over the body's edge
const BASS_FRET = 5; // wound strings are played up to here in this style

/** Local cost of a choice of places, before fingers. */
export function placesCost(places: readonly GripPlace[], w: Readonly<HandWeights>): number {
  let cost = 0;
  let lowest = 0;
  for (const p of places) {
    const isBass = p.string >= LOW_STRING;
    if (p.fret === 0) cost += isBass ? w.open + w.openBass : w.open;
    else {
      cost += w.fret * p.fret;
      if (p.fret > HIGH_FRET) cost += w.high * (p.fret - HIGH_FRET);
      if (isBass && p.fret > BASS_FRET) cost += w.bassHigh * (p.fret - BASS_FRET);
    }
    lowest = Math.max(lowest, p.string);
  }
  return places.length > 1 && lowest < LOW_STRING ? cost + w.bass * (LOW_STRING - lowest) : cost;
}

/** All grips of these notes, cheapest first, at most MOST_GRIPS; empty when no hand can hold them.
 * @param marked left finger that a player wrote for each note, where one did */
export function gripsFor(
  placesPerNote: readonly (readonly GripPlace[])[],
  mm: Float64Array,
  w: Readonly<HandWeights>,
  marked: readonly (number | undefined)[] = [],
): Grip[] {
  const isMarked = marked.some((f) => f !== undefined);
  const most = isMarked ? MARKED_PER_PLACES : MOST_PER_PLACES;
  const found: Grip[] = [];
  const chosen: GripPlace[] = [];
  let lowFret = 99;
  let highFret = 0;
  const choose = (k: number, mask: number): void => {
    const options = placesPerNote[k];
    if (options === undefined) {
      const base = placesCost(chosen, w);
      for (const f of fingeringsOf(chosen, mm, w, most)) {
        const against = isMarked
          ? marked.filter((want, at) => want !== undefined && want !== f.fingers[at]).length
          : 0;
        found.push(gripOf(chosen, f, base + AGAINST_MARK * against, mask));
      }
      return;
    }
    for (const place of options) {
      if ((mask & (1 << place.string)) !== 0) continue;
      const [lowWas, highWas] = [lowFret, highFret];
      if (place.fret > 0) {
        lowFret = Math.min(lowFret, place.fret);
        highFret = Math.max(highFret, place.fret);
      }
      if (highFret - lowFret <= 7) {
        chosen.push(place);
        choose(k + 1, mask | (1 << place.string));
        chosen.pop();
      }
      lowFret = lowWas;
      highFret = highWas;
    }
  };
  choose(0, 0);
  found.sort((a, b) => a.cost - b.cost || compareStrings(a.strings, b.strings));
  if (found.length <= MOST_GRIPS) return found;
  return varied(found);
}

function gripOf(places: readonly GripPlace[], fingering: Fingering, base: number, mask: number): Grip {
  const { fingers } = fingering;
  let lowestFinger = 9;
  let barreFret = 0;
  let barreFrom = 0;
  let barreTo = 0;
  fingers.forEach((f, k) => {
    if (f === 0) return;
    lowestFinger = Math.min(lowestFinger, f);
    for (let j = 0; j < k; j++) {
      if (fingers[j] !== f) continue;
      const from = Math.min(places[j]!.string, places[k]!.string);
      const to = Math.max(places[j]!.string, places[k]!.string);
      if (to - from <= barreTo - barreFrom) continue;
      barreFret = places[k]!.fret;
      barreFrom = from;
      barreTo = to;
    }
  });
  return {
    strings: places.map((p) => p.string),
    frets: places.map((p) => p.fret),
    fingers,
    position: fingering.position ?? -1,
    cost: base + fingering.cost,
    stringMask: mask,
    lowestFinger,
    barreFret,
    barreFrom,
    barreTo,
    left: [],
  };
}

/** The cheapest fingering of every choice of places first, so that no place is lost to many fingerings of another. */
function varied(grips: readonly Grip[]): Grip[] {
  const seen = new Set<string>();
  const first: Grip[] = [];
  const rest: Grip[] = [];
  for (const g of grips) {
    const key = g.strings.join("");
    (seen.has(key) ? rest : first).push(g);
    seen.add(key);
  }
  return [...first, ...rest].slice(0, MOST_GRIPS);
}

const compareStrings = (a: readonly number[], b: readonly number[]): number => {
  for (let k = 0; k < a.length; k++) if (a[k] !== b[k]) return (a[k] ?? 0) - (b[k] ?? 0);
  return 0;
};

/** Makes the grips of events, once for each set of pitches without locks.
 * Where no hand can hold an event, notes are left out until one can: first the second of
 * a unison, then the least certain (ties: the higher index first). */
export function gripMaker(
  notes: readonly SearchNote[],
  mm: Float64Array,
  w: Readonly<HandWeights>,
): (event: Event) => readonly Grip[] {
  const known = new Map<string, readonly Grip[]>();
  const make = (idx: readonly number[]): Grip[] => {
    let kept = idx.map((_, k) => k);
    const left: number[] = [];
    for (;;) {
      const fits =
        kept.length > 6
          ? []
          : gripsFor(
              kept.map((k) => notes[idx[k]!]!.places),
              mm,
              w,
              kept.map((k) => notes[idx[k]!]!.locked?.leftFinger),
            );
      if (fits.length > 0)
        return left.length === 0 ? fits : fits.map((g) => spread(g, kept, left, idx.length));
      const locked = (k: number): number => (notes[idx[k]!]!.locked === undefined ? 0 : 1);
      const doubled = (k: number): number =>
        kept.some((j) => j < k && notes[idx[j]!]!.midi === notes[idx[k]!]!.midi) ? 0 : 1;
      const order = [...kept].sort(
        (a, b) =>
          locked(a) - locked(b) ||
          doubled(a) - doubled(b) ||
          notes[idx[a]!]!.confidence - notes[idx[b]!]!.confidence ||
          b - a,
      );
      const worst = order[0];
      if (worst === undefined) return [];
      left.push(worst);
      kept = kept.filter((k) => k !== worst);
    }
  };
  return (event) => {
    const idx = event.noteIdx;
    if (idx.some((k) => notes[k]!.locked !== undefined)) return make(idx);
    const key = idx.map((k) => notes[k]!.midi).join(",");
    let grips = known.get(key);
    if (grips === undefined) {
      grips = make(idx);
      known.set(key, grips);
    }
    return grips;
  };
}

/** A grip of some of the notes, written along all of them: string 0 for those left out. */
function spread(grip: Grip, kept: readonly number[], left: readonly number[], count: number): Grip {
  const strings = new Array<number>(count).fill(0);
  const frets = new Array<number>(count).fill(0);
  const fingers = new Array<number>(count).fill(0);
  kept.forEach((k, at) => {
    strings[k] = grip.strings[at] ?? 0;
    frets[k] = grip.frets[at] ?? 0;
    fingers[k] = grip.fingers[at] ?? 0;
  });
  return { ...grip, strings, frets, fingers, left };
}
