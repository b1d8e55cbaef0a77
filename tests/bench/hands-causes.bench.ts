// Why marked strings and the order of fingers are missed: every miss of the search, sorted by what would have set it right.
import type { HandWeights } from "../../src/hands/cost-table.js";
import { HAND_WEIGHTS } from "../../src/hands/cost-table.js";
import type { FrettedNote, LeftFinger, Lock } from "../../src/hands/fretted.js";
import { neckMm } from "../../src/hands/reach.js";
import { fretNotes } from "../../src/hands/search.js";
import { searchLattice } from "../../src/hands/search-beam.js";
import { eventsOf, searchNotes } from "../../src/hands/search-events.js";
import { gripMaker } from "../../src/hands/search-grips.js";
import { orderPairs } from "../helpers/hands/agreement.js";
import { type FingeredPiece, fingeredPieces } from "../helpers/hands/fingered.js";
import { hasShared } from "../helpers/needs.js";
import type { BenchCase, Cell } from "./bench-case.js";
import { FOLD_WEIGHTS } from "./hands-folds-table.js";

const AROUND_SEC = 6; // what lies further away has no say in a note
const BEAM = 24;
const NEAR = 1; // costs that differ by less are nearly a matter of chance
const FAR = 3; // costs that differ by more are another taste

/** Cheapest way through the notes near a moment. */
function leastCost(
  p: FingeredPiece,
  near: readonly number[],
  locks: readonly Lock[],
  w: HandWeights,
): number {
  const notes = near.flatMap((k) => p.notes[k] ?? []);
  const mm = neckMm(p.instrument);
  const sought = searchNotes(notes, p.instrument, locks);
  const events = eventsOf(sought, new Set(notes.flatMap((n, k) => (n.grace === true ? [k] : []))));
  const grips = events.map(gripMaker(sought, mm, w));
  const costs = grips.map((list) => Float64Array.from(list, (g) => g.cost));
  const { nodeStart, nodeCost } = searchLattice(events, grips, costs, sought, mm, w, BEAM);
  return Math.min(...nodeCost.slice(nodeStart[events.length - 1], nodeStart[events.length]));
}

const lockOf = (p: FingeredPiece, k: number): Lock => {
  const note = p.notes[k];
  if (note === undefined) throw new Error("no such note");
  return { bar: note.bar, tick: note.tick, midi: note.midi };
};

/** The player's own left fingers, as locks. */
const fingersOf = (p: FingeredPiece): Lock[] =>
  p.marks.flatMap(({ leftFinger }, k) =>
    leftFinger === undefined ? [] : [{ ...lockOf(p, k), leftFinger: leftFinger as LeftFinger }],
  );

/** A string on which the pitch does not lie, or lies stopped under a 0 or open under a finger. */
function isSlip(p: FingeredPiece, k: number): boolean {
  const { string, leftFinger } = p.marks[k] ?? {};
  if (string === undefined) return false;
  const fret = (p.notes[k]?.midi ?? 0) - (p.instrument.openMidi[6 - string] ?? 0);
  const isOpen = leftFinger === undefined ? undefined : leftFinger === 0;
  return fret < 0 || fret > p.instrument.highestFret || (isOpen !== undefined && isOpen !== (fret === 0));
}

function stringCauses(
  p: FingeredPiece,
  found: FrettedNote[],
  given: FrettedNote[],
  w: HandWeights,
): string[] {
  return p.marks.flatMap(({ string }, k) => {
    if (string === undefined || found[k]?.string === string) return [];
    if (isSlip(p, k)) return ["slip of engraving: no such fret, or open under a finger"];
    if (given[k]?.string === string) return ["right once the player's left fingers are given"];
    const at = p.notes[k]?.onsetSec ?? 0;
    const near = p.notes.flatMap((n, j) => (Math.abs(n.onsetSec - at) < AROUND_SEC ? [j] : []));
    const more = leastCost(p, near, [{ ...lockOf(p, k), string }], w) - leastCost(p, near, [], w);
    if (more < NEAR) return [`left: the player's place costs less than ${NEAR} more`];
    return more < FAR ? [`left: ${NEAR} to ${FAR} more`] : [`left: more than ${FAR} more`];
  });
}

const bench: BenchCase = {
  name: "hands-causes",
  run: async () => {
    const strings = new Map<string, number>();
    const order = new Map<string, number>();
    const count = (into: Map<string, number>, cause: string): unknown =>
      into.set(cause, (into.get(cause) ?? 0) + 1);
    const pieces = hasShared("fingered") ? fingeredPieces() : [];
    pieces.forEach((p, idx) => {
      const weights = FOLD_WEIGHTS[idx % FOLD_WEIGHTS.length] ?? {};
      const found = fretNotes(p.notes, p.instrument, { weights });
      const given = fretNotes(p.notes, p.instrument, { weights, locks: fingersOf(p) });
      for (const cause of stringCauses(p, found, given, { ...HAND_WEIGHTS, ...weights }))
        count(strings, cause);
      const now = orderPairs(p, found);
      const then = new Map(orderPairs(p, given).map((pair) => [`${pair.a} ${pair.b}`, pair.isRight]));
      for (const { a, b, isTogether, isRight } of now) {
        if (isRight) continue;
        const cause = then.get(`${a} ${b}`) === false ? "wrong with the player's own fingers too" : "ours";
        count(order, `${isTogether ? "together" : "close"}: ${cause}`);
      }
    });
    const rows = [
      ...[...strings].map(([cause, n]): Cell[] => ["string", cause, n]),
      ...[...order].map(([cause, n]): Cell[] => ["order", cause, n]),
    ].sort((x, y) => String(x[0] + String(x[1])).localeCompare(String(y[0] + String(y[1])), "en"));
    return {
      title: "Hands: what is missed of players' marks, by cause",
      columns: ["mark", "cause", "missed"],
      rows,
    };
  },
};

export default bench;
