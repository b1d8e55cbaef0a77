import { HAND_WEIGHTS } from "../../../src/hands/cost-table.js";
import { fingeringsOf } from "../../../src/hands/fingerings.js";
import type { FrettedNote, Place } from "../../../src/hands/fretted.js";
import { neckMm } from "../../../src/hands/reach.js";
import type { FingeredPiece } from "./fingered.js";

/** Counts of what agrees with a player's marks; every pair is [right, of]. */
export type Agreement = {
  strings: [number, number];
  open: [number, number];
  /** Two stopped notes that sound together. */
  together: [number, number];
  /** Two stopped notes that sound together or begin within CLOSE_SEC. */
  order: [number, number];
  leftFinger: [number, number];
  rightFinger: [number, number];
  /** Events of which no hand can hold the notes where they were put, of all; and of those that some hand could. */
  unplayable: [number, number];
  twoOnString: number;
};

export const nothing = (): Agreement => ({
  strings: [0, 0],
  open: [0, 0],
  together: [0, 0],
  order: [0, 0],
  leftFinger: [0, 0],
  rightFinger: [0, 0],
  unplayable: [0, 0],
  twoOnString: 0,
});

const CLOSE_SEC = 0.65; // two marked notes follow each other closely: about a quarter note

/** How a fretted piece agrees with its marks.
 * order: two stopped notes with different marked fingers that sound together or begin within CLOSE_SEC: the higher finger must
 * not lie on a lower fret. Unplayable events are those whose pitches some grip could hold, and this one does not. */
export function agreement(
  piece: FingeredPiece,
  fretted: readonly (Place & Partial<Pick<FrettedNote, "leftFinger" | "finger">>)[],
): Agreement {
  const out = nothing();
  const { marks } = piece;
  fretted.forEach((f, k) => {
    const mark = marks[k];
    if (mark === undefined) return;
    if (mark.string !== undefined) {
      out.strings[1]++;
      if (mark.string === f.string) out.strings[0]++;
    }
    if (mark.leftFinger === 0) {
      out.open[1]++;
      if (f.fret === 0) out.open[0]++;
    } else if (mark.leftFinger !== undefined && f.leftFinger !== undefined) {
      out.leftFinger[1]++;
      if (f.leftFinger === mark.leftFinger) out.leftFinger[0]++;
    }
    if (mark.rightFinger !== undefined && f.finger !== undefined) {
      out.rightFinger[1]++;
      if (mark.rightFinger === f.finger) out.rightFinger[0]++;
    }
  });
  for (const { isTogether, isRight } of orderPairs(piece, fretted)) {
    for (const pair of isTogether ? [out.order, out.together] : [out.order]) {
      pair[1]++;
      if (isRight) pair[0]++;
    }
  }
  gripCounts(piece, fretted, out);
  return out;
}

/** Pairs of stopped notes whose marked fingers differ, that sound together or follow closely. @property a, b indices of the notes */
export function orderPairs(
  { notes, marks }: FingeredPiece,
  fretted: readonly Place[],
): { a: number; b: number; isTogether: boolean; isRight: boolean }[] {
  const marked = notes.map((n, k) => ({ n, k })).filter(({ k }) => (marks[k]?.leftFinger ?? 0) > 0);
  marked.sort((a, b) => a.n.onsetSec - b.n.onsetSec || a.n.midi - b.n.midi);
  return marked.flatMap((a, i) => {
    const pairs: ReturnType<typeof orderPairs> = [];
    for (let j = i + 1; j < marked.length; j++) {
      const b = marked[j];
      if (b === undefined || b.n.onsetSec > Math.max(a.n.onsetSec + CLOSE_SEC, a.n.offsetSec - 0.01)) break;
      const [fa, fb] = [marks[a.k]?.leftFinger ?? 0, marks[b.k]?.leftFinger ?? 0];
      const [pa, pb] = [fretted[a.k], fretted[b.k]];
      if (fa === fb || pa === undefined || pb === undefined || pa.fret === 0 || pb.fret === 0) continue;
      pairs.push({
        a: a.k,
        b: b.k,
        isTogether: b.n.onsetSec <= a.n.offsetSec - 0.01 || b.n.onsetSec <= a.n.onsetSec,
        isRight: fa < fb ? pa.fret <= pb.fret : pb.fret <= pa.fret,
      });
    }
    return pairs;
  });
}

function gripCounts(piece: FingeredPiece, fretted: readonly Place[], out: Agreement): void {
  const mm = neckMm(piece.instrument);
  const byOnset = new Map<number, Map<number, Place>>();
  piece.notes.forEach((n, k) => {
    if (n.grace === true) return; // sounds before its main note, whatever the file says
    const at = byOnset.get(n.onsetSec) ?? new Map<number, Place>();
    byOnset.set(n.onsetSec, at);
    const place = fretted[k];
    if (place !== undefined) at.set(n.midi, place);
  });
  for (const places of byOnset.values()) {
    const list = [...places.values()];
    if (list.length > 6) continue; // more pitches than strings: an ornament written at one place
    out.unplayable[1]++;
    const strings = new Set(list.map((p) => p.string));
    if (strings.size < list.length) out.twoOnString++;
    else if (fingeringsOf(list, mm, HAND_WEIGHTS, 1).length === 0) out.unplayable[0]++;
  }
}

export function addAgreement(a: Agreement, b: Agreement): Agreement {
  const sum = (x: [number, number], y: [number, number]): [number, number] => [x[0] + y[0], x[1] + y[1]];
  return {
    strings: sum(a.strings, b.strings),
    open: sum(a.open, b.open),
    together: sum(a.together, b.together),
    order: sum(a.order, b.order),
    leftFinger: sum(a.leftFinger, b.leftFinger),
    rightFinger: sum(a.rightFinger, b.rightFinger),
    unplayable: sum(a.unplayable, b.unplayable),
    twoOnString: a.twoOnString + b.twoOnString,
  };
}
