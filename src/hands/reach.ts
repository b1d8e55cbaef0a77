import type { Instrument } from "./fretted.js";

// Measures of the neck and of the left hand, in millimetres.

/** Distance from the nut to a fret: L · (1 − 2^(−fret/12)), equal temperament. @param fret from the nut, not from the capo */
export const fretMm = (fret: number, scaleLengthMm: number): number =>
  scaleLengthMm * (1 - 2 ** (-fret / 12));

/** Strings lie about this far apart under the left hand: 43 to 52 mm between the outer strings at the nut, wider up the neck
 * (common practice of makers, no published source). */
const STRING_GAP_MM = 9;

/** What two fingers span along the neck: index = difference of their numbers (1 neighbours … 3 index and little finger).
 * `natural` is what they cover without effort, `most` is where a grip stops counting as playable.
 * Scale 650 mm, first position: one fret 34 mm, two 67, three 98, four 127 (fret formula). Four frets from index to little
 * finger are the limit of method books (common practice); beyond lies 154 mm, the whole 2–5 span of most hands: pianists with
 * less than 152 mm (6.0 in) from index to little finger, hand flat, have small hands (Boyle, Boyle & Booker 2015, Pianist hand
 * spans), and fingers that must press curved across a neck reach less than a flat hand. */
export const REACH_MM = Object.freeze({
  natural: [0, 38, 72, 105],
  most: [0, 80, 105, 128],
});

/** The outer pair of fingers spreads least: middle and ring, ring and little finger side by side. */
const MOST_INNER_MM = 70;

/** Longest span along the neck for fingers `low` < `high`. */
export const mostReachMm = (low: number, high: number): number =>
  high - low === 1 && low > 1 ? MOST_INNER_MM : (REACH_MM.most[high - low] ?? 0);

/** Neck measured once: mm[fret from the capo + 1], so that entry 0 is one fret below the capo (a hand that lies there). */
export function neckMm(instrument: Instrument): Float64Array {
  const count = Math.max(30, instrument.highestFret - instrument.capo + 8);
  return Float64Array.from({ length: count + 2 }, (_, k) =>
    fretMm(instrument.capo + k - 1, instrument.scaleLengthMm),
  );
}

/** A pressed place: string 1…6, fret from the capo ≥ 1, finger 1…4. */
export type Press = { string: number; fret: number; finger: number };

/** Effort of two different fingers that are down together: undefined when it can't be done.
 * Fingers lie in the order of frets; at one fret the lower finger takes the lower-pitched string.
 * @returns beyond one finger a fret, more than a fret under it, and beyond the comfortable reach, each in mm; `crossed` when the strings are against order */
export function pairEffort(
  a: Press,
  b: Press,
  mm: Float64Array,
): { overMm: number; underMm: number; strainMm: number; crossed: boolean } | undefined {
  const low = a.finger < b.finger ? a : b;
  const high = low === a ? b : a;
  const from = mm[low.fret + 1] ?? 0;
  const alongMm = (mm[high.fret + 1] ?? 0) - from;
  const gap = high.finger - low.finger;
  if (alongMm < 0 || alongMm > mostReachMm(low.finger, high.finger)) return undefined;
  const naturalMm = (mm[low.fret + 1 + gap] ?? 0) - from;
  const oneFretMm = (mm[low.fret + 2] ?? 0) - from; // fingers a fret closer than one a fret are at ease, as in any open chord
  const acrossMm = Math.abs(low.string - high.string) * STRING_GAP_MM;
  const reachMm = Math.hypot(alongMm, acrossMm * 0.5);
  return {
    overMm: Math.max(0, alongMm - naturalMm),
    underMm: Math.max(0, naturalMm - alongMm - oneFretMm),
    strainMm: Math.max(0, reachMm - (REACH_MM.natural[gap] ?? 0)),
    crossed: low.fret === high.fret && low.string < high.string,
  };
}
