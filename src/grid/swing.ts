import { median } from "../base/numbers.js";

const SWING_DEFAULTS = Object.freeze({
  leastHits: 4, // off-beats needed to say anything
  ratioFloor: 1.28, // a looser half is still played straight
  ratioCeiling: 2.6, // longer : shorter from there on is a dotted figure, which is 3
});

export type Feel = { feel: "straight" | "swing"; swingRatio: number };

/** Straight or swung, from where the off-beats stand. Swung eighths leave one late off-beat a beat and nothing on the first
 * third or the quarters; triplets fill the first third as well, sixteenths the quarters.
 * @param shares position of each event within its beat, 0…1 @param unit swing is a matter of quarter beats; eighth beats are straight */
export function decideFeel(shares: readonly number[], unit: number): Feel {
  const straight: Feel = { feel: "straight", swingRatio: 1 };
  if (unit >= 8) return straight;
  const off = shares.filter((s) => s > 0.42 && s < 0.79);
  const early = shares.filter((s) => s >= 0.14 && s <= 0.42).length;
  const late = shares.filter((s) => s >= 0.79 && s < 0.9).length;
  if (off.length < SWING_DEFAULTS.leastHits || early + late > 0.25 * off.length) return straight;
  const middle = median(off) ?? 0.5;
  const ratio = middle / (1 - middle);
  if (ratio < SWING_DEFAULTS.ratioFloor || ratio > SWING_DEFAULTS.ratioCeiling) return straight;
  return { feel: "swing", swingRatio: ratio };
}
