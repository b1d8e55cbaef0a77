/** From the player's path to what happened to each written bar: played, played as something else, left out; and what was played
 * that the sheet does not have at that place (a false start, a bar begun again, a section repeated, an unwritten bar).
 * In: visits of coarse.ts. Out: one place a written bar, and the passages that have none.
 * Method: the sequence of bars as played against the sequence as written, edit distance with affine gaps (Gotoh 1982, J. Mol.
 * Biol. 162): two swapped bars are two bars played as something else, a long stretch out of order is a gap here and there. */
import { median } from "../base/numbers.js";
import type { CoarsePath } from "./coarse.js";
import type { PlayedBar, Score } from "./written.js";

const COST = Object.freeze({
  sameMusic: 0.05, // another bar with the same notes: nearly as good as itself
  otherMusic: 1,
  gapOpen: 1.1, // two bars in each other's place (2) must be cheaper than one left out and one put in (2.2) …
  gapMore: 0.6, // … and a moved section of three bars dearer (6 against 4.6)
  brokenOff: 0.3, // a bar that was broken off is the likelier one to be surplus
});

export const MOST_UNWRITTEN_BARS = 2; // more than two surplus bars in a row are a section played again

/** One time through one bar. @property barIdx −1 for music that no written bar explains @property complete all its events were reached */
export type BarPass = {
  barIdx: number;
  fromSec: number;
  toSec: number;
  visitSec: number[];
  complete: boolean;
};

export type BarPlace =
  | { kind: "played"; pass: BarPass }
  | { kind: "instead"; pass: BarPass } // other music stands in its place
  | { kind: "left-out" };

/** Passes without a written place, played after bar `afterBarIdx` (−1: before the first). */
type Surplus = { afterBarIdx: number; passes: BarPass[] };
export type Structure = { places: BarPlace[]; surplus: Surplus[] };

/** The path cut into bars. The end of a pass is the start of the next, or its last note plus its mean gap. */
export function barPasses(score: Score, path: CoarsePath): BarPass[] {
  const passes: BarPass[] = [];
  let lastEvent = -2;
  for (const visit of path.visits) {
    const event = score.events[visit.eventIdx];
    if (!event) continue;
    const open = passes.at(-1);
    if (open && visit.eventIdx === lastEvent + 1 && open.barIdx === event.barIdx)
      open.visitSec.push(visit.sec);
    else
      passes.push({
        barIdx: event.barIdx,
        fromSec: visit.sec,
        toSec: visit.sec,
        visitSec: [visit.sec],
        complete: false,
      });
    lastEvent = visit.eventIdx;
  }
  passes.forEach((pass, i) => {
    const bar = score.bars[pass.barIdx] as PlayedBar;
    pass.complete = pass.visitSec.length === bar.endEvent - bar.firstEvent;
    const last = pass.visitSec.at(-1) as number;
    const gap = pass.visitSec.length > 1 ? (last - pass.fromSec) / (pass.visitSec.length - 1) : 0.5;
    const next = passes[i + 1];
    // A pause after the bar does not belong to it: at most four mean gaps.
    pass.toSec = next ? Math.min(next.fromSec, last + 4 * gap) : last + gap;
  });
  return passes;
}

/** Seconds a tick within each whole pass of a beat and more. */
export function pacesOf(score: Score, passes: readonly BarPass[]): { sec: number; secPerTick: number }[] {
  return passes.flatMap((p) => {
    const bar = score.bars[p.barIdx];
    const [first, last] = [score.events[bar?.firstEvent ?? -1], score.events[(bar?.endEvent ?? 0) - 1]];
    const ticks = (last?.startTick ?? 0) - (first?.startTick ?? 0);
    if (!p.complete || ticks < 24) return [];
    return [{ sec: p.fromSec, secPerTick: ((p.visitSec.at(-1) as number) - p.fromSec) / ticks }];
  });
}

/** Stretches about a bar long and more, with notes in them, that the path leaves empty: music that no written bar explains.
 * @param heardSecs onsets of what was clearly heard, rising */
function withStrangeBars(score: Score, passes: readonly BarPass[], heardSecs: readonly number[]): BarPass[] {
  const secPerTick = median(pacesOf(score, passes).map((p) => p.secPerTick));
  if (secPerTick === undefined) return [...passes];
  const out: BarPass[] = [];
  passes.forEach((pass, i) => {
    out.push(pass);
    const bar = score.bars[pass.barIdx] as PlayedBar;
    const firstTick = (score.events[bar.firstEvent]?.startTick ?? bar.startTick) - bar.startTick;
    const barSec = bar.lengthTicks * secPerTick;
    const lastSec = pass.visitSec.at(-1) as number;
    const endSec = pass.complete
      ? Math.max(lastSec + 0.05, pass.fromSec + barSec - firstTick * secPerTick - 0.08)
      : lastSec + 0.05;
    const next = passes[i + 1];
    const gapSec = next ? next.fromSec - endSec : barSec;
    const count = Math.round(gapSec / barSec);
    if (gapSec < STRANGE.leastShare * barSec || count === 0) return;
    for (let n = 0; n < count; n++) {
      const fromSec = endSec + (n * gapSec) / count;
      const toSec = fromSec + gapSec / count;
      const within = heardSecs.filter((sec) => sec >= fromSec - 0.05 && sec < toSec - 0.1);
      const moments = within.filter(
        (sec, k) => k === 0 || sec - (within[k - 1] as number) > 0.1 || within.length >= 4,
      );
      if (moments.length < STRANGE.leastNotes) continue;
      const startSec = within[0] as number;
      out.push({
        barIdx: -1,
        fromSec: startSec,
        toSec: Math.max(startSec + 0.1, toSec),
        visitSec: within,
        complete: true,
      });
    }
  });
  return out;
}

const STRANGE = Object.freeze({ leastShare: 0.6, leastNotes: 2 });

const MATCH = 0;
const EXTRA = 1; // a pass without a written bar
const LEFT = 2; // a written bar without a pass

/** What became of each bar of `score.bars` (bars without events count as played in passing and are left out of the sequences). */
export function structureOf(score: Score, path: CoarsePath, heardSecs: readonly number[]): Structure {
  const passes = withStrangeBars(score, barPasses(score, path), heardSecs);
  const written = score.bars
    .map((_, i) => i)
    .filter((i) => (score.bars[i]?.endEvent ?? 0) > (score.bars[i]?.firstEvent ?? 0));
  const rows = passes.length + 1;
  const cols = written.length + 1;
  const size = rows * cols;
  const cost = [0, 1, 2].map(() => new Float64Array(size).fill(Number.POSITIVE_INFINITY));
  const from = [0, 1, 2].map(() => new Uint8Array(size));
  const [match, extra, left] = cost as [Float64Array, Float64Array, Float64Array];
  match[0] = 0;
  const best = (cell: number, adds: readonly [number, number, number]): [number, number] => {
    let state = MATCH; // ties: a match before a gap
    let value = (match[cell] as number) + adds[0];
    if ((extra[cell] as number) + adds[1] < value)
      [state, value] = [EXTRA, (extra[cell] as number) + adds[1]];
    if ((left[cell] as number) + adds[2] < value) [state, value] = [LEFT, (left[cell] as number) + adds[2]];
    return [state, value];
  };
  for (let i = 0; i < rows; i++)
    for (let j = 0; j < cols; j++) {
      const cell = i * cols + j;
      const pass = passes[i - 1];
      const barIdx = written[j - 1];
      if (pass && barIdx !== undefined) {
        const [state, value] = best(cell - cols - 1, [0, 0, 0]);
        const a = score.bars[pass.barIdx];
        const b = score.bars[barIdx];
        const unlike =
          pass.barIdx === barIdx ? 0 : a?.contentKey === b?.contentKey ? COST.sameMusic : COST.otherMusic;
        match[cell] = value + unlike + (pass.complete ? 0 : COST.brokenOff);
        (from[MATCH] as Uint8Array)[cell] = state;
      }
      if (pass) {
        const open = COST.gapOpen - (pass.complete ? 0 : COST.brokenOff);
        const [state, value] = best(cell - cols, [open, COST.gapMore, open]);
        extra[cell] = value;
        (from[EXTRA] as Uint8Array)[cell] = state;
      }
      if (barIdx !== undefined) {
        const [state, value] = best(cell - 1, [COST.gapOpen, COST.gapOpen, COST.gapMore]);
        left[cell] = value;
        (from[LEFT] as Uint8Array)[cell] = state;
      }
    }

  const places: BarPlace[] = score.bars.map(() => ({ kind: "left-out" }));
  const loose: { afterBarIdx: number; pass: BarPass }[] = [];
  let i = rows - 1;
  let j = cols - 1;
  let state = best(size - 1, [0, 0, 0])[0];
  while (i > 0 || j > 0) {
    const cell = i * cols + j;
    const before = (from[state] as Uint8Array)[cell] as number;
    const pass = passes[i - 1];
    const barIdx = written[j - 1];
    if (state === MATCH && pass && barIdx !== undefined) {
      const same = score.bars[pass.barIdx]?.contentKey === score.bars[barIdx]?.contentKey;
      places[barIdx] = { kind: same ? "played" : "instead", pass };
      i--;
      j--;
    } else if (state === EXTRA && pass) {
      loose.push({ afterBarIdx: barIdx ?? -1, pass });
      i--;
    } else j--;
    state = before;
  }
  const surplus: Surplus[] = [];
  for (const { afterBarIdx, pass } of loose.reverse()) {
    const open = surplus.at(-1);
    if (open && open.afterBarIdx === afterBarIdx) open.passes.push(pass);
    else surplus.push({ afterBarIdx, passes: [pass] });
  }
  return { places, surplus };
}
