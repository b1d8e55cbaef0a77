/** Left-hand fingers of a chord box.
 * In: the places of a grip with the fingers that the sheet has for them, which may come from different moments of a bar. Out: fingers that one
 * hand can lay down together. Method: the sheet's fingers stand where they make a grip; else fingers are dealt along the neck, one fret a finger.
 * Source: one finger a fret, barre for the lowest fret: common practice of guitar teaching, no published source. Cannot: the thumb over the neck. */
import type { LeftFinger } from "../hands/fretted.js";

/** @property isHand the finger was written by a hand and is not questioned */
export type BoxPlace = { fret: number; finger: LeftFinger | undefined; isHand: boolean };

/** Strings that a barre must span to be taken for the lowest fret, when fingers would do for its places. */
const BARRE_SPAN = 4;

/** The grip with its fingers; open strings have none. */
export function fingersOfBox(places: ReadonlyMap<number, BoxPlace>): Map<number, LeftFinger | undefined> {
  const held = [...places].filter(([, p]) => p.fret > 0);
  const own = new Map([...places].map(([s, p]) => [s, p.fret > 0 ? p.finger : undefined]));
  return held.every(([, p]) => p.isHand) || canBeHeld(places) ? own : dealt(places);
}

/** Do the fingers given make one grip: each at one place or a barre over nothing lower, none behind a lower-numbered one?
 * Another finger than the first lies flat only where there are more places than fingers. */
export function canBeHeld(places: ReadonlyMap<number, BoxPlace>): boolean {
  const held = [...places].filter(([, p]) => p.fret > 0);
  for (const [string, place] of held) {
    if (!place.finger) return false;
    for (const [otherString, other] of held) {
      if (other.finger === undefined || otherString === string) continue;
      if (other.fret > place.fret && other.finger <= place.finger) return false;
      if (other.finger !== place.finger) continue;
      if (place.finger > 1 && held.length <= 4) return false;
      if (!isClear(places, string, otherString, place.fret)) return false;
      // A barre leaves no work on its fret to another finger.
      if (held.some(([, p]) => p.fret === place.fret && p.finger !== place.finger)) return false;
    }
  }
  return true;
}

/** May one finger lie on a fret from one string to another: no string between sounds lower? */
function isClear(places: ReadonlyMap<number, BoxPlace>, a: number, b: number, fret: number): boolean {
  for (let string = Math.min(a, b); string <= Math.max(a, b); string++)
    if ((places.get(string)?.fret ?? fret) < fret) return false;
  return true;
}

/** Fingers along the neck: by fret, then from the lowest string; in open position the finger of the fret where enough are left. */
function dealt(places: ReadonlyMap<number, BoxPlace>): Map<number, LeftFinger | undefined> {
  const fingers = new Map<number, LeftFinger | undefined>();
  const held = [...places]
    .filter(([, p]) => p.fret > 0)
    .sort(([a, p], [b, q]) => p.fret - q.fret || b - a)
    .map(([string, p]) => ({ string, fret: p.fret }));
  const lowest = held[0]?.fret ?? 0;
  const base = Math.max(...held.map((h) => h.fret)) <= 4 ? 1 : lowest;
  const atLowest = held.filter((h) => h.fret === lowest).map((h) => h.string);
  const top = Math.min(...atLowest);
  const bottom = Math.max(...atLowest);
  const isBarre =
    atLowest.length > 1 &&
    (held.length > 4 || bottom - top >= BARRE_SPAN) &&
    isClear(places, top, bottom, lowest);
  let next = 1;
  for (const [idx, { string, fret }] of held.entries()) {
    if (isBarre && fret === lowest) {
      fingers.set(string, 1);
      next = 2;
      continue;
    }
    const left = held.length - idx;
    const finger = Math.max(next, Math.min(fret - base + 1, 5 - left));
    fingers.set(string, finger <= 4 ? (finger as LeftFinger) : undefined);
    next = finger + 1;
  }
  return fingers;
}
