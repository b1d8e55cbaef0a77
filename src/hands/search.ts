// Fretboard search.
// In: placed notes, the instrument, what a hand has locked. Out: the same notes, in the same order, with string, fret, left
// finger, confidence of the place and ranked alternatives; picking fingers by picking.ts.
// Method: dynamic programming over what the left hand holds while notes ring, in a bounded beam (search-beam.ts); candidates
// of each event from all playable fingerings (fingerings.ts); a second pass in which bars that are the same music and
// places of the bar that are plucked alike speak for each other.
// Sources: Sayegh 1989; Radicioni, Anselma & Lombardo 2004; Heijink & Meulenbroek 2002; Hori & Sagayama 2016 (cost-table.ts).
// Can't: thumb over the neck, harmonics, bends, slides between written notes, two hands on the neck.
import type { Finding } from "../base/finding.js";
import type { PlacedNote } from "../grid/grid.js";
import { HAND_WEIGHTS, type HandWeights } from "./cost-table.js";
import type { FrettedNote, Instrument, LeftFinger, Lock, Place } from "./fretted.js";
import { pickFingers } from "./picking.js";
import { neckMm } from "./reach.js";
import { bestPath, nodePosteriors, searchLattice } from "./search-beam.js";
import { type Event, eventsOf, lockKey, placesOf, type SearchNote, searchNotes } from "./search-events.js";
import { type Grip, gripMaker } from "./search-grips.js";
import { poolPlaces, poolShares } from "./search-pool.js";

/** @property groupOfBar groupOfBar[bar − 1]: equal numbers are the same music
 * @property ticksPerBar, ticksPerBeat kept for callers; the search itself needs only bar and tick */
export type FretOptions = {
  locks?: readonly Lock[];
  weights?: Partial<HandWeights>;
  groupOfBar?: readonly number[];
  ticksPerBar?: number;
  ticksPerBeat?: number;
};

const FIRST_BEAM = 10; // the first pass only prepares what notes tell each other
const MOST_SURE = 0.975; // where the search sees no doubt it is still wrong so often: rough takes of seeds 600…615
const LEAST_ALTERNATIVE = 0.0005; // places below this probability still follow, lowest fret first

/** Strings, frets and fingers for every note.
 * @param notes any order; the result keeps it
 * A pitch that the neck lacks gets the nearest place with confidence 0 (see placeFindings). */
export function fretNotes(
  notes: readonly PlacedNote[],
  instrument: Instrument,
  options: FretOptions = {},
): FrettedNote[] {
  const w = { ...HAND_WEIGHTS, ...options.weights };
  const mm = neckMm(instrument);
  const sought = searchNotes(notes, instrument, options.locks ?? []);
  const grace = new Set<number>();
  notes.forEach((n, k) => {
    if (n.grace === true) grace.add(k);
  });
  const events = eventsOf(sought, grace);
  const gripsOf = gripMaker(sought, mm, w);
  const grips = events.map(gripsOf);
  const extra = poolShares(sought, w, options.groupOfBar);
  const pools = w.pattern > 0 || options.groupOfBar !== undefined;
  let costs = gripCosts(events, grips, extra);
  let lattice = searchLattice(events, grips, costs, sought, mm, w, pools ? FIRST_BEAM : undefined);
  let marginals = placeMarginals(events, grips, sought, lattice, w);
  if (poolPlaces(sought, marginals, extra, w, options.groupOfBar)) {
    costs = gripCosts(events, grips, extra);
    lattice = searchLattice(events, grips, costs, sought, mm, w);
    marginals = placeMarginals(events, grips, sought, lattice, w);
  }
  const path = bestPath(lattice);
  return written(notes, sought, events, grips, path, marginals, instrument, options.locks ?? []);
}

/** Cost of every grip of every event with the evidence of its strings. @param extra shape (notes, 6), string 1 first */
function gripCosts(
  events: readonly Event[],
  grips: readonly (readonly Grip[])[],
  extra: Float64Array,
): Float64Array[] {
  return events.map((event, e) =>
    Float64Array.from(grips[e]!, (g) => {
      let cost = g.cost;
      for (let k = 0; k < event.noteIdx.length; k++) {
        const string = g.strings[k]!;
        if (string > 0) cost += extra[event.noteIdx[k]! * 6 + string - 1]!;
      }
      return cost;
    }),
  );
}

/** Probability of each string for each note, shape (notes, 6), string 1 first. */
function placeMarginals(
  events: readonly Event[],
  grips: readonly (readonly Grip[])[],
  notes: readonly SearchNote[],
  lattice: ReturnType<typeof searchLattice>,
  w: Readonly<HandWeights>,
): Float64Array {
  const out = new Float64Array(notes.length * 6);
  const posterior = nodePosteriors(lattice, w.temperature);
  events.forEach((event, e) => {
    for (let node = lattice.nodeStart[e]!; node < lattice.nodeStart[e + 1]!; node++) {
      const grip = grips[e]![lattice.nodeGrip[node]!]!;
      for (let k = 0; k < event.noteIdx.length; k++) {
        const string = grip.strings[k]!;
        if (string > 0) out[event.noteIdx[k]! * 6 + string - 1]! += posterior[node]!;
      }
    }
  });
  return out;
}

function written(
  notes: readonly PlacedNote[],
  sought: readonly SearchNote[],
  events: readonly Event[],
  grips: readonly (readonly Grip[])[],
  path: Int32Array,
  marginals: Float64Array,
  instrument: Instrument,
  locks: readonly Lock[],
): FrettedNote[] {
  const chosen = notes.map((): { string: number; fret: number; finger: number; sure: number } => ({
    string: 0,
    fret: 0,
    finger: 0,
    sure: 0,
  }));
  events.forEach((event, e) => {
    const grip = grips[e]![path[e]!]!;
    const used = new Set<number>();
    event.noteIdx.forEach((idx, k) => {
      const string = grip.strings[k]!;
      if (string === 0) return;
      used.add(string);
      const sure = marginals[idx * 6 + string - 1]!;
      chosen[idx] = { string, fret: grip.frets[k]!, finger: grip.fingers[k]!, sure };
    });
    for (const k of grip.left) {
      const idx = event.noteIdx[k]!;
      const twin = event.noteIdx.find(
        (j, at) => grip.strings[at]! > 0 && sought[j]!.midi === sought[idx]!.midi,
      );
      if (twin !== undefined && sought[idx]!.locked === undefined) {
        chosen[idx] = chosen[twin]!;
        continue;
      }
      const near = leftOver(sought[idx]!, used, grip.position);
      used.add(near.string);
      chosen[idx] = { ...near, finger: near.fret === 0 ? 0 : 4, sure: 0 };
    }
  });
  const out = notes.map((note, idx): FrettedNote => {
    const me = sought[idx]!;
    const from = me.twinOf ?? idx;
    const { string, fret, finger, sure } = chosen[from]!;
    const onNeck = placesOf(note.midi, instrument);
    const odd = !onNeck.some((p) => p.string === string && p.fret === fret);
    const { string: onString, fret: onFret, finger: pluck } = me.locked ?? {};
    const byHand = onString !== undefined || onFret !== undefined || pluck !== undefined;
    return {
      ...note,
      string,
      fret,
      finger: "p",
      leftFinger: finger as LeftFinger,
      by: byHand ? "hand" : "machine",
      placeConfidence:
        me.locked?.string !== undefined
          ? 1
          : odd
            ? 0
            : Math.min(1, sure) * (onNeck.length > 1 ? MOST_SURE : 1),
      alternatives: ranked(onNeck, string, marginals, from),
    };
  });
  return pickFingers(out, locks.length === 0 ? {} : { locks });
}

/** Other places of the pitch, likeliest first, then lowest fret. */
function ranked(places: readonly Place[], string: number, marginals: Float64Array, idx: number): Place[] {
  const chance = (p: Place): number => {
    const m = marginals[idx * 6 + p.string - 1]!;
    return m < LEAST_ALTERNATIVE ? 0 : m;
  };
  return places
    .filter((p) => p.string !== string)
    .sort((a, b) => chance(b) - chance(a) || a.fret - b.fret)
    .map(({ string: s, fret }) => ({ string: s, fret }));
}

/** A note that no grip could hold with the others: a free string nearest to the hand, else its nearest place. */
function leftOver(note: SearchNote, used: ReadonlySet<number>, position: number): Place {
  const far = (p: Place): number => (p.fret === 0 ? 0 : Math.abs(p.fret - Math.max(1, position)));
  const list = [...note.places].sort(
    (a, b) =>
      Number(used.has(a.string)) - Number(used.has(b.string)) || far(a) - far(b) || a.string - b.string,
  );
  const { string, fret } = list[0]!;
  return { string, fret };
}

/** Pitches that the neck lacks, one finding each; fretNotes puts them at the nearest place with confidence 0.
 * Rules: `below-lowest-string`, `above-highest-fret`. */
export function rangeFindings(notes: readonly PlacedNote[], instrument: Instrument): Finding[] {
  const lowest = Math.min(...instrument.openMidi) + instrument.capo;
  const found = new Map<number, { first: number; count: number }>();
  for (const n of notes) {
    if (placesOf(n.midi, instrument).length > 0) continue;
    const known = found.get(n.midi);
    if (known === undefined) found.set(n.midi, { first: n.bar, count: 1 });
    else known.count++;
  }
  return [...found]
    .sort(([a], [b]) => a - b)
    .map(([midi, { first, count }]): Finding => {
      const low = midi < lowest;
      const edge = low ? `the lowest string is ${lowest}` : `fret ${instrument.highestFret} is the highest`;
      const times = count === 1 ? "once" : `${count} times`;
      return {
        rule: low ? "below-lowest-string" : "above-highest-fret",
        level: "warning",
        bar: first,
        message: `MIDI note ${midi} can't be played on this instrument (${times}): ${edge}`,
        hint: low
          ? "Is the tuning right (a dropped string, a capo that was not there)? Else correct the note."
          : "Was an overtone heard as a note, or is the capo wrong? Else correct the note.",
      };
    });
}

/** One bar decided again, in milliseconds: the bars around it stay as they are and steer it.
 * @param notes the whole piece as fretted before @param options.locks what a hand fixed, in this bar or elsewhere
 * @returns the whole piece; only notes of `bar` can differ, and of those only what no hand wrote */
export function refretBar(
  notes: readonly FrettedNote[],
  bar: number,
  instrument: Instrument,
  options: FretOptions = {},
): FrettedNote[] {
  const idx: number[] = [];
  notes.forEach((n, k) => {
    if (Math.abs(n.bar - bar) <= 1) idx.push(k);
  });
  const asked = new Map((options.locks ?? []).map((l) => [lockKey(l.bar, l.tick, l.midi), l]));
  const locks: Lock[] = [];
  const window = idx.map((k) => notes[k]!);
  for (const n of window) {
    const mine = asked.get(lockKey(n.bar, n.tick, n.midi));
    if (mine !== undefined) locks.push(mine);
    else if (n.bar !== bar || n.by === "hand")
      locks.push({
        bar: n.bar,
        tick: n.tick,
        midi: n.midi,
        string: n.string,
        fret: n.fret,
        finger: n.finger,
        leftFinger: n.leftFinger,
      });
  }
  const { groupOfBar: _whole, ...rest } = options;
  const again = fretNotes(window, instrument, { ...rest, locks });
  const out = [...notes];
  idx.forEach((k, at) => {
    const before = notes[k]!;
    const now = again[at]!;
    if (before.bar !== bar) return;
    const hand = before.by === "hand" || asked.has(lockKey(before.bar, before.tick, before.midi));
    out[k] = { ...now, by: hand ? "hand" : "machine" };
  });
  return out;
}
