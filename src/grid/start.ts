// Where the music begins: what comes before it is a count-in, a false start or noise.
// In: events, times of unpitched attacks (clicks, taps, muted strings, counted words), the beat's length and the meter.
// Out: the index of the first event that is music, and what the count-in says of beat 1.
// Method: a regular row of attacks at the beat, that the music then answers in time, is a count-in. Attacks that the
// listener took for notes are told by being short, weak and alone. Cannot do: a count-in of ringing notes.
import { median } from "../base/numbers.js";
import type { PlayedNote } from "../notes/played-note.js";
import type { HitEvent } from "./events.js";
import type { Meter } from "./grid.js";

const START_DEFAULTS = Object.freeze({
  spacingShare: 0.16, // counts are within this share of the beat of each other
  answerShare: 0.3, // and the music answers within this
  shortSec: 0.32, // clicks, taps and words taken for notes ring no longer
  surelyRingsSec: 0.5,
  snapSec: 0.07, // words are heard up to this early; a first note this near is the beat itself
  longestCountIn: 16, // beats
});

/** @property firstIdx first event of the music @property countInBeats counts before bar 1 or its pick-up
 * @property beatAtSec a moment that is a beat by the count-in, if there was one */
export type Start = { firstIdx: number; countInBeats: number; beatAtSec?: number };

type Row = { atSec: number[]; spacingSec: number; beatsEach: number };

/** The longest row of attacks at the beat (or the dotted quarter of an eighth-note meter) that ends where music may begin. */
function regularRow(attackSec: readonly number[], periodSec: number, meter: Meter): Row | undefined {
  const eachWays = meter.unit >= 8 && meter.beats % 3 === 0 ? [1, 3] : [1, 2];
  let best: Row | undefined;
  for (const beatsEach of eachWays)
    for (let from = 0; from < attackSec.length; from++) {
      const wanted = periodSec * beatsEach;
      const row = [attackSec[from] as number];
      for (let k = from + 1; k < attackSec.length; k++) {
        const gap = (attackSec[k] as number) - (row.at(-1) as number);
        if (Math.abs(gap - wanted) <= START_DEFAULTS.spacingShare * wanted) row.push(attackSec[k] as number);
        else if (gap > wanted) break;
      }
      if (row.length >= 2 && row.length > (best?.atSec.length ?? 1)) {
        const spacingSec = ((row.at(-1) as number) - (row[0] as number)) / (row.length - 1);
        best = { atSec: row, spacingSec, beatsEach };
      }
    }
  return best;
}

const ringsLong = (
  notes: readonly PlayedNote[],
  event: HitEvent,
  longerSec: number = START_DEFAULTS.shortSec,
): boolean =>
  event.noteIdxs.some((idx) => {
    const n = notes[idx] as PlayedNote;
    return n.offsetSec - n.onsetSec > longerSec && n.confidence > 0.3;
  });

/** Finds the start of the music.
 * @param attackSec unpitched attacks, rising; [] when they were not looked for @param countInBeats as the user says, if so */
export function findStart(
  events: readonly HitEvent[],
  notes: readonly PlayedNote[],
  options: {
    periodSec: number;
    meter: Meter;
    attackSec: readonly number[];
    countInBeats?: number | undefined;
  },
): Start {
  const { periodSec, meter, countInBeats } = options;
  // An attack that a note answers which rings on is the note's own.
  const attackSec = options.attackSec.filter(
    (sec) =>
      !events.some(
        (e) => e.sec > sec - 0.04 && e.sec < sec + 0.08 && ringsLong(notes, e, START_DEFAULTS.surelyRingsSec),
      ),
  );
  const at = (idx: number): HitEvent => events[idx] as HitEvent;
  const firstFrom = (sec: number): number => {
    const idx = events.findIndex((e) => e.sec >= sec);
    return idx < 0 ? Math.max(0, events.length - 1) : idx;
  };
  if (events.length === 0) return { firstIdx: 0, countInBeats: countInBeats ?? 0 };
  if (countInBeats === 0) return { firstIdx: 0, countInBeats: 0 };

  // Attacks that are no notes, in a row that the music answers.
  const musicSec = firstRinging(events, notes, attackSec, periodSec);
  const row = regularRow(
    attackSec.filter((sec) => sec < musicSec + 0.03),
    periodSec,
    meter,
  );
  if (row !== undefined) {
    const lastSec = row.atSec.at(-1) as number;
    const countedBeats = row.atSec.length * row.beatsEach;
    let nextSec = lastSec + row.spacingSec;
    let counts = countInBeats ?? countedBeats;
    if (countInBeats !== undefined)
      nextSec = (row.atSec[0] as number) + (countInBeats * row.spacingSec) / row.beatsEach;
    const firstIdx = firstFrom(nextSec - START_DEFAULTS.answerShare * periodSec);
    const snapped = (sec: number): number =>
      events.find((e) => Math.abs(e.sec - sec) < Math.max(START_DEFAULTS.snapSec, 0.1 * periodSec))?.sec ??
      sec;
    // The first note may have been taken for one more count.
    const answered = Math.abs(at(firstIdx).sec - nextSec) < START_DEFAULTS.answerShare * periodSec;
    if (!answered && countInBeats === undefined) {
      const onLast = events.findIndex((e) => Math.abs(e.sec - lastSec) < 0.06 && ringsLong(notes, e));
      if (onLast >= 0 && row.atSec.length > 2) {
        counts = countedBeats - row.beatsEach;
        return { firstIdx: onLast, countInBeats: counts, beatAtSec: at(onLast).sec };
      }
    }
    if (answered || at(firstIdx).sec - nextSec < meter.beats * periodSec)
      return { firstIdx, countInBeats: counts, beatAtSec: snapped(nextSec) };
  }
  if (countInBeats !== undefined && countInBeats > 0) {
    // Told, but nothing heard apart from notes: the first sounds are the counts.
    const startSec = attackSec.length > 0 ? Math.min(attackSec[0] as number, at(0).sec) : at(0).sec;
    const shortFirst = !ringsLong(notes, at(0)) || attackSec.some((s) => s < at(0).sec - 0.5 * periodSec);
    if (!shortFirst) return { firstIdx: 0, countInBeats };
    const beatSec = startSec + countInBeats * periodSec;
    return { firstIdx: firstFrom(beatSec - 0.3 * periodSec), countInBeats, beatAtSec: beatSec };
  }
  return fromEvents(events, notes, periodSec, meter);
}

/** Time of the first event that rings like a string and is no attack of a count-in. */
function firstRinging(
  events: readonly HitEvent[],
  notes: readonly PlayedNote[],
  attackSec: readonly number[],
  periodSec: number,
): number {
  const idx = events.findIndex((e, k) => {
    if (!ringsLong(notes, e) || attackSec.some((s) => Math.abs(s - e.sec) < 0.06)) return false;
    const next = events[k + 1];
    return next === undefined || next.sec - e.sec < 4 * periodSec;
  });
  return idx < 0 ? Number.POSITIVE_INFINITY : (events[idx] as HitEvent).sec;
}

/** Are these far shorter than the notes of the take? */
function shorterThanUsual(notes: readonly PlayedNote[], events: readonly HitEvent[]): boolean {
  const usual = median(notes.map((n) => n.offsetSec - n.onsetSec)) ?? 0;
  const longest = Math.max(
    ...events.flatMap((e) =>
      e.noteIdxs.map((idx) => (notes[idx] as PlayedNote).offsetSec - (notes[idx] as PlayedNote).onsetSec),
    ),
  );
  return longest < 0.4 * usual;
}

/** Without attacks: short, lone notes at the beat before the first that rings are counts; a weak note far ahead is noise. */
function fromEvents(
  events: readonly HitEvent[],
  notes: readonly PlayedNote[],
  periodSec: number,
  meter: Meter,
): Start {
  const ringing = events.findIndex((e) => ringsLong(notes, e));
  if (ringing <= 0) return { firstIdx: 0, countInBeats: 0 };
  const first = events[ringing] as HitEvent;
  const counts = events.slice(0, ringing);
  const beats = counts.map((e) => (first.sec - e.sec) / periodSec);
  const regular = counts.filter(
    (_, k) =>
      Math.abs((beats[k] as number) - Math.round(beats[k] as number)) < START_DEFAULTS.spacingShare * 1.5,
  );
  const total = Math.round(beats[0] as number);
  const distinct = new Set(beats.map((b) => Math.round(b))).size;
  if (
    total >= 1 &&
    total <= START_DEFAULTS.longestCountIn &&
    regular.length >= 0.7 * counts.length &&
    (distinct >= 0.7 * total || shorterThanUsual(notes, counts))
  ) {
    // Some counts may not have been heard: a count-in is taken to fill bars.
    const filled = distinct === total ? total : Math.ceil(total / meter.beats) * meter.beats;
    return { firstIdx: ringing, countInBeats: filled, beatAtSec: first.sec };
  }
  // Lone weak sounds well before the music.
  const gap = first.sec - (counts.at(-1) as HitEvent).sec;
  if (gap > Math.max(1.5 * periodSec, 0.8) && counts.length <= 2 * meter.beats)
    return { firstIdx: ringing, countInBeats: 0 };
  return { firstIdx: 0, countInBeats: 0 };
}
