import { HAND_WEIGHTS } from "./cost-table.js";
import { type Fingering, fingeringsOf } from "./fingerings.js";
import type { Instrument, LeftFinger } from "./fretted.js";
import { neckMm } from "./reach.js";

export type GripVerdict = { playable: boolean; fingers: LeftFinger[]; stretchMm: number; why: string };

/** Can one hand hold this chord shape, and with which fingers?
 * @param frets strings 6 → 1, from the capo; undefined is a string that stays silent
 * @returns fingers strings 6 → 1 (0 for open and silent); stretchMm from the lowest to the highest stopped fret along the neck */
export function judgeGrip(frets: readonly (number | undefined)[], instrument: Instrument): GripVerdict {
  const mm = neckMm(instrument);
  const places = frets.flatMap((fret, k) => (fret === undefined ? [] : [{ string: 6 - k, fret }]));
  const stopped = places.filter((p) => p.fret > 0).map((p) => p.fret);
  const at = (fret: number): number => mm[fret + 1] ?? 0;
  const stretchMm = stopped.length === 0 ? 0 : at(Math.max(...stopped)) - at(Math.min(...stopped));
  const silent: LeftFinger[] = frets.map(() => 0);
  const no = (why: string): GripVerdict => ({ playable: false, fingers: silent, stretchMm, why });
  const top = instrument.highestFret - instrument.capo;
  if (stopped.some((fret) => fret > top)) return no(`no fret ${Math.max(...stopped)}: the highest is ${top}`);
  const best = fingeringsOf(places, mm, HAND_WEIGHTS, 1)[0];
  if (best === undefined) return no(reason(stopped, stretchMm));
  return { playable: true, fingers: fingersOf(frets, best), stretchMm, why: told(best, stretchMm) };
}

const reason = (stopped: readonly number[], stretchMm: number): string =>
  new Set(stopped).size > 4
    ? "more than four fingers are needed"
    : `four fingers can't hold it: ${Math.round(stretchMm)} mm between the outer frets, or a barre would stop an open string`;

function fingersOf(frets: readonly (number | undefined)[], best: Fingering): LeftFinger[] {
  let k = 0;
  return frets.map((fret) => (fret === undefined ? 0 : ((best.fingers[k++] ?? 0) as LeftFinger)));
}

function told(best: Fingering, stretchMm: number): string {
  const used = best.fingers.filter((f) => f > 0);
  const count = new Set(used).size;
  const barre = count < used.length ? " with a barre" : "";
  return `${count} finger${count === 1 ? "" : "s"}${barre}, ${Math.round(stretchMm)} mm along the neck`;
}
