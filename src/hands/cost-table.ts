import type { LeftFinger, Place } from "./fretted.js";

// Weights of the fretboard search. A cost has no unit: two fingerings that differ by 1 differ by a factor e in plausibility.
// Forms of the terms: Sayegh 1989 (path of least cost through states of the hand); Radicioni, Anselma & Lombardo 2004 (stretch
// along and across the neck, hand movement, a segment held by one position); Heijink & Meulenbroek 2002 (players keep joints
// near the middle of their range, low and few movements); Hori & Sagayama 2016 (movement costed against the time there is for it).
// Values: learnt by tests/helpers/hands/tune.ts from players' fingerings and composed studies; what has a reason of its own says it.

/** Every weight of the left-hand search.
 * @property fret a stopped fret, for each fret from the capo: low positions are home in this style
 * @property high a stopped fret beyond the ninth, for each fret, on top
 * @property bassHigh a stopped fret beyond the fifth on strings 4 to 6, for each fret, on top: dull and far from the thumb's home
 * @property open an open string (a negative cost is a bonus)
 * @property openBass an open string of 4 to 6, on top
 * @property openHigh an open treble string while the hand lies high, all of it from sixth position: another colour in the middle of a line
 * @property press a finger that comes down anew rather than staying
 * @property middle, ring, little these fingers, beside the index
 * @property barre one finger over several strings
 * @property barreString each string beyond the second that a barre covers
 * @property stretch 10 mm beyond one finger a fret
 * @property bunch 10 mm of crowding, from a fret less than one finger a fret
 * @property overComfort 10 mm beyond the comfortable reach, on top
 * @property shift moving the hand by the width of the first fret
 * @property leap moving it by two frets or more, on top
 * @property guide share of the shift that a finger sliding on its string saves, 0…1
 * @property hop one finger leaving a string for another at once
 * @property cut a ringing note that must stop, all of it still to sound
 * @property heard share of `cut` for a note that a listener heard (confidence under 1): its end is a guess, a written one is not
 * @property back a note of a broken chord that must stop although it is about to come back
 * @property echo a string plucked again soon for a pitch a leap away: arpeggios ring beyond their written lengths
 * @property cross a step of a second that goes to another string, both stopped: another colour in the middle of a line
 * @property crossOpen the same to or from an open string
 * @property crossHigh the same to or from an open string while the hand lies high, all of it from sixth position, on top
 * @property elsewhere a pitch played on another string than a moment ago
 * @property order a finger pressed against the order of fingers that were down just before
 * @property bass the thumb's strings: a lowest simultaneous note on strings 1–3, for each string away from 4
 * @property share trust in the listener's string evidence: 1 takes it at its word
 * @property form the same place in the bars that are the same music
 * @property pattern the same string at the same tick of the bar, through changing chords
 * @property temperature of the posterior: over 1 is less sure */
export type HandWeights = {
  fret: number;
  high: number;
  bassHigh: number;
  open: number;
  openBass: number;
  openHigh: number;
  press: number;
  middle: number;
  ring: number;
  little: number;
  barre: number;
  barreString: number;
  stretch: number;
  bunch: number;
  overComfort: number;
  shift: number;
  leap: number;
  guide: number;
  hop: number;
  cut: number;
  heard: number;
  back: number;
  echo: number;
  cross: number;
  crossOpen: number;
  crossHigh: number;
  elsewhere: number;
  order: number;
  bass: number;
  share: number;
  form: number;
  pattern: number;
  temperature: number;
};

export const HAND_WEIGHTS: Readonly<HandWeights> = Object.freeze({
  fret: 0.096, // small: what rings and how far the hand goes decide more
  high: 0.28, // the body of a nylon guitar begins at the twelfth fret
  bassHigh: 0.124,
  open: -0.174, // open strings are preferred where they serve (common practice of the style)
  openBass: 0.167,
  openHigh: 0.226, // tone (common practice)
  press: 0.384, // a finger that stays costs nothing (Radicioni et al. 2004)
  middle: 0.072,
  ring: 0.082,
  little: 0.433, // weakest finger, used when the others are placed
  barre: 0.25, // strength; first avoided in studies (common practice)
  barreString: 0.094,
  stretch: 1.483, // along the neck (Radicioni et al. 2004; Heijink & Meulenbroek 2002)
  bunch: 0.149,
  overComfort: 1.041,
  shift: 0.869, // time for a movement goes with its length (Hori & Sagayama 2016)
  leap: 0.983,
  guide: 0.46, // a finger kept on its string leads the hand (common practice)
  hop: 1.277, // legato asks for another finger
  cut: 7.167, // what was recorded as ringing was held
  heard: 0.5, // ends are heard to about 0.2 s at best
  back: 3.223, // fingers of a broken chord stay down (common practice)
  echo: 1.263, // broken chords lie across strings (common practice)
  cross: -0.024, // nearly indifferent to players
  crossOpen: 0.12,
  crossHigh: 0.303,
  elsewhere: 0.222, // a note is looked for where it was (common practice)
  order: 1.132, // fingers lie in the order of frets
  bass: 0.093,
  share: 0.03, // on guitars it never heard the listener names the right string for 3 notes in 5: 25 takes of seeds 4000…4024 give 0.974 right at 0, 0.979 at 0.03, 0.931 at 0.1
  form: 1.0,
  pattern: 2.5, // the picking hand repeats itself: on 40 takes really heard (seeds 40000…40039) 1.5 gives 0.972 of places right, 2.5 0.977; more costs players' strings
  temperature: 1.5,
});

/** Weights of the picking-hand search; same unit of cost. Home position: common practice, no published source.
 * @property away a finger, for each string from its home (i 3, m 2, a 1; p at home on 6, 5, 4)
 * @property thumbHigh the thumb on string 3 or higher, for each string above 4
 * @property bassByFinger i, m or a on strings 5 and 6, for each string below 4, on top
 * @property again the same finger twice on one string, at quick pace
 * @property across the same finger on two strings one after the other, at quick pace
 * @property cross fingers in the opposite order to the strings, one after the other
 * @property brush one finger over several strings at once
 * @property gap an unused finger between two that pluck together on neighbouring strings
 * @property pattern the same finger at the same tick and string in other bars
 * @property quickSec pace under which a finger is late on another string
 * @property againSec pace under which a finger is late on its own string */
export type PickWeights = {
  away: number;
  thumbHigh: number;
  bassByFinger: number;
  again: number;
  across: number;
  cross: number;
  brush: number;
  gap: number;
  pattern: number;
  quickSec: number;
  againSec: number;
};

export const PICK_WEIGHTS: Readonly<PickWeights> = Object.freeze({
  away: 1.3,
  thumbHigh: 1.3,
  bassByFinger: 1.5,
  again: 1.4,
  across: 2.0,
  cross: 1.0,
  brush: 2.5,
  gap: 0.2,
  pattern: 1.0,
  quickSec: 0.3,
  againSec: 0.16,
});

/** A place that a teacher changed: what was drafted and what the hand wrote; left fingers where they were changed. */
export type PlaceCorrection = { from: FingeredPlace; to: FingeredPlace };
type FingeredPlace = Place & { leftFinger?: LeftFinger };

const NUDGE = 0.04; // a tenth of a typical weight needs about ten corrections that all say the same
const NUDGE_FACTOR_LIMIT = 3; // never further than a third or three times the shipped value

/** Moves weights a little towards what a player keeps correcting: towards open strings, low or high frets, the little finger.
 * Plain data in and out: who stores it can delete it. Weights stay within a third to three times the shipped ones. */
export function nudgeWeights(
  weights: Readonly<HandWeights>,
  corrections: readonly PlaceCorrection[],
): HandWeights {
  const out = { ...weights };
  for (const { from, to } of corrections) {
    const frets = to.fret - from.fret;
    if (frets !== 0) out.fret -= NUDGE * Math.sign(frets) * HAND_WEIGHTS.fret * 4;
    if ((to.fret === 0) !== (from.fret === 0)) out.open += NUDGE * (to.fret === 0 ? -1 : 1);
    if (
      to.leftFinger !== undefined &&
      from.leftFinger !== undefined &&
      (to.leftFinger === 4) !== (from.leftFinger === 4)
    )
      out.little += NUDGE * (to.leftFinger === 4 ? -1 : 1);
  }
  for (const name of ["fret", "open", "little"] as const) {
    const a = HAND_WEIGHTS[name] / NUDGE_FACTOR_LIMIT;
    const b = HAND_WEIGHTS[name] * NUDGE_FACTOR_LIMIT;
    out[name] = Math.min(Math.max(a, b), Math.max(Math.min(a, b), out[name]));
  }
  return out;
}
