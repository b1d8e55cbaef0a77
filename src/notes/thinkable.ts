/** Where an onset is at least thinkable: how loud it is and what the sound says of its string, which the maps do not hold.
 * In: the network's answer and features, cell by cell. Out: what picking asks for a place. Method: numbers side by side, found by halving;
 * as objects an hour's took 8 MB. Levels and shares are worked out when they are asked for: most cells are no peaks. */
import type { ListenerCard } from "./card.js";
import { FEATURES } from "./features.js";
import type { Side } from "./pick.js";

/** The thinkable cells of a stretch.
 * @property at frame · pitchCount + pitchIdx, rising @property attack the strongest feature just after the onset
 * @property strings logits of strings 1…6, shape (cells, 6); empty where the network tells of none */
export type Thinkable = { at: Int32Array; attack: Float32Array; strings: Float32Array };

/** Gathers the cells of one stretch in the order of the maps. @property add `logits` shape (6) */
export type CellList = {
  add: (at: number, attack: number, logits: Float32Array | undefined) => void;
  whole: () => Thinkable;
};

export function makeCellList(): CellList {
  const at: number[] = [];
  const attack: number[] = [];
  const strings: number[] = [];
  return {
    add(cellAt, cellAttack, logits) {
      at.push(cellAt);
      attack.push(cellAttack);
      if (logits) for (const x of logits) strings.push(x);
    },
    whole: () => ({
      at: Int32Array.from(at),
      attack: Float32Array.from(attack),
      strings: Float32Array.from(strings),
    }),
  };
}

/** @param stretches cells of each stretch, all of `stretchFrames` but the last */
export function sideOf(stretches: readonly Thinkable[], stretchFrames: number, card: ListenerCard): Side {
  const { pitchCount, strings } = card;
  return (frame, pitchIdx) => {
    const cells = stretches[Math.floor(frame / stretchFrames)];
    const k = cells && placeOf(cells.at, (frame % stretchFrames) * pitchCount + pitchIdx);
    if (cells === undefined || k === undefined) return undefined;
    const level = Math.expm1(6 * cells.attack[k]!) / FEATURES.compress;
    if (cells.strings.length === 0) return { level };
    const shares = softmax(cells.strings.subarray(6 * k, 6 * k + 6), strings.temperature);
    return Math.max(...shares) >= strings.claim ? { level, shares } : { level };
  };
}

/** Index of a value in a rising list, undefined where it is not in it. */
function placeOf(rising: Int32Array, value: number): number | undefined {
  let low = 0;
  let high = rising.length;
  while (low < high) {
    const mid = (low + high) >> 1;
    if (rising[mid]! < value) low = mid + 1;
    else high = mid;
  }
  return rising[low] === value ? low : undefined;
}

function softmax(logits: Float32Array, temperature: number): number[] {
  const top = Math.max(...logits);
  const weights = Array.from(logits, (x) => Math.exp((x - top) / temperature));
  const sum = weights.reduce((a, b) => a + b, 0);
  return weights.map((w) => w / sum);
}
