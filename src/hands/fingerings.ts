import type { HandWeights } from "./cost-table.js";
import { type Press, pairEffort } from "./reach.js";

// All ways to put four fingers on a set of stopped strings, with barres: the geometry that both the search and the judge of
// chord shapes rest on.

/** Fingers of one grip.
 * @property fingers for each place given, 0 for open strings
 * @property position fret of the index finger by the lowest finger used; undefined when all strings are open
 * @property cost of stretch, bunching and barres, weighted */
export type Fingering = { fingers: number[]; position: number | undefined; cost: number };

export type GripPlace = { string: number; fret: number };

const LONGEST_BARRE = [0, 6, 4, 4, 3]; // strings that finger 1…4 can lie across (common practice, no published source)

/** May one finger lie across these strings of the grip? Nothing under it may be open or stopped lower. */
function barreHolds(places: readonly GripPlace[], fret: number, from: number, to: number): boolean {
  return places.every((p) => p.string < from || p.string > to || p.fret >= fret);
}

const ownCost = (finger: number, w: Readonly<HandWeights>): number =>
  finger === 4 ? w.little : finger === 3 ? w.ring : finger === 2 ? w.middle : 0;

/** Effort of all pairs and barres of a fingering, undefined when some pair can't be held together. */
export function gripCost(
  presses: readonly Press[],
  mm: Float64Array,
  w: Readonly<HandWeights>,
): number | undefined {
  let cost = 0;
  const first: (Press | undefined)[] = [];
  const reached: number[] = [];
  for (const press of presses) {
    const known = first[press.finger];
    if (known === undefined) {
      first[press.finger] = press;
      reached[press.finger] = press.string;
      cost += ownCost(press.finger, w);
    } else {
      const spanned = Math.abs(known.string - press.string) + 1;
      if (reached[press.finger] === known.string) cost += w.barre;
      reached[press.finger] = press.string;
      cost += w.barreString * Math.max(0, spanned - 2);
      if (press.finger > 1) cost += w.barre; // the first joint of another finger has to bend back
    }
  }
  for (let k = 0; k < presses.length; k++)
    for (let j = 0; j < k; j++) {
      const a = presses[j];
      const b = presses[k];
      if (a === undefined || b === undefined || a.finger === b.finger) continue;
      const effort = pairEffort(a, b, mm);
      if (effort === undefined) return undefined;
      cost +=
        0.1 * (w.stretch * effort.overMm + w.bunch * effort.underMm + w.overComfort * effort.strainMm) +
        (effort.crossed ? w.order : 0);
    }
  return cost;
}

/** Every fingering of a grip, cheapest first (then by the fingers as digits), at most `most`.
 * @param places distinct strings, frets from the capo ≥ 0 */
export function fingeringsOf(
  places: readonly GripPlace[],
  mm: Float64Array,
  w: Readonly<HandWeights>,
  most = 12,
): Fingering[] {
  const stopped = places
    .map((p, idx) => ({ ...p, idx }))
    .filter((p) => p.fret > 0)
    .sort((a, b) => a.fret - b.fret || b.string - a.string);
  const found: Fingering[] = [];
  const presses: (Press & { idx: number })[] = [];
  const place = (k: number): void => {
    const next = stopped[k];
    if (next === undefined) {
      const cost = gripCost(presses, mm, w);
      if (cost === undefined) return;
      const fingers = places.map(() => 0);
      for (const p of presses) fingers[p.idx] = p.finger;
      const lowest = presses[0];
      const position = lowest === undefined ? undefined : Math.max(0, lowest.fret - lowest.finger + 1);
      found.push({ fingers, position, cost });
      return;
    }
    const last = presses[k - 1];
    const lowest = last === undefined ? 1 : last.finger;
    for (let finger = lowest; finger <= 4; finger++) {
      if (last !== undefined && finger === last.finger) {
        if (last.fret !== next.fret) continue;
        const strings = presses.filter((p) => p.finger === finger).map((p) => p.string);
        const from = Math.min(next.string, ...strings);
        const to = Math.max(next.string, ...strings);
        if (to - from + 1 > (LONGEST_BARRE[finger] ?? 0)) continue;
        if (!barreHolds(places, next.fret, from, to)) continue;
      }
      if (finger > next.fret + 2) continue; // the little finger on the first fret: the hand would lie behind the capo
      presses.push({ string: next.string, fret: next.fret, finger, idx: next.idx });
      place(k + 1);
      presses.pop();
    }
  };
  place(0);
  found.sort((a, b) => a.cost - b.cost || Number(a.fingers.join("")) - Number(b.fingers.join("")));
  return found.slice(0, most);
}
