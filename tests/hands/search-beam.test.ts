import { expect, test } from "vitest";
import type { PlacedNote } from "../../src/grid/grid.js";
import { HAND_WEIGHTS } from "../../src/hands/cost-table.js";
import { neckMm } from "../../src/hands/reach.js";
import { bestPath, nodePosteriors, searchLattice } from "../../src/hands/search-beam.js";
import { eventsOf, searchNotes } from "../../src/hands/search-events.js";
import { gripMaker } from "../../src/hands/search-grips.js";
import { restState, STRIDE, stateAfter, stepper, TIMES } from "../../src/hands/search-step.js";

const GUITAR = { openMidi: [40, 45, 50, 55, 59, 64], capo: 0, highestFret: 19, scaleLengthMm: 650 };

function setUp(rows: readonly (readonly [number, number, number])[]) {
  const placed = rows.map(
    ([beat, midi, beats]): PlacedNote => ({
      onsetSec: beat * 0.4,
      offsetSec: (beat + beats) * 0.4,
      midi,
      confidence: 1,
      velocity: 0.5,
      bar: 1,
      tick: beat * 24,
      lengthTicks: beats * 24,
    }),
  );
  const notes = searchNotes(placed, GUITAR, []);
  const mm = neckMm(GUITAR);
  const events = eventsOf(notes, new Set());
  const grips = events.map(gripMaker(notes, mm, HAND_WEIGHTS));
  const costs = grips.map((list) => Float64Array.from(list, (g) => g.cost));
  return { notes, mm, events, grips, costs };
}

/** Least cost over every sequence of grips, by trying them all. */
function bruteForce({ notes, mm, events, grips }: ReturnType<typeof setUp>): number {
  const step = stepper(notes, mm, HAND_WEIGHTS);
  let best = Number.POSITIVE_INFINITY;
  const go = (e: number, state: Int32Array, times: Float64Array, cost: number): void => {
    const event = events[e];
    if (event === undefined) {
      best = Math.min(best, cost);
      return;
    }
    for (const grip of grips[e] ?? []) {
      step.from(state, 0, times, 0, event);
      const total = cost + grip.cost + step.cost(grip, Number.POSITIVE_INFINITY);
      if (total >= best + 5) continue; // costs of later steps may be negative, by open strings, but not by so much
      const after = new Int32Array(STRIDE);
      const afterTimes = new Float64Array(TIMES);
      const [kept = 0, position = 0] = step.outcome;
      stateAfter(state, 0, times, 0, event, grip, kept, position, after, afterTimes);
      go(e + 1, after, afterTimes, total);
    }
  };
  const state = new Int32Array(STRIDE);
  const times = new Float64Array(TIMES);
  restState(state, times);
  go(0, state, times, 0);
  return best;
}

for (const [name, rows] of [
  [
    "a broken chord left ringing",
    [
      [0, 48, 4],
      [1, 55, 3],
      [2, 60, 2],
      [3, 64, 1],
    ],
  ],
  [
    "a climb up the neck",
    [
      [0, 64, 1],
      [1, 67, 1],
      [2, 71, 1],
      [3, 76, 1],
    ],
  ],
  [
    "two voices",
    [
      [0, 45, 4],
      [0, 64, 1],
      [1, 62, 1],
      [2, 60, 1],
      [3, 59, 1],
    ],
  ],
] as const)
  test(`search-beam: the best path costs what trying every path costs: ${name}`, () => {
    const given = setUp(rows);
    const lattice = searchLattice(
      given.events,
      given.grips,
      given.costs,
      given.notes,
      given.mm,
      HAND_WEIGHTS,
      64,
    );
    const last = given.events.length - 1;
    const ends = Array.from(lattice.nodeCost.subarray(lattice.nodeStart[last], lattice.nodeStart[last + 1]));
    expect(Math.min(...ends)).toBeCloseTo(bruteForce(given), 6);
    expect(bestPath(lattice).length).toBe(given.events.length);
  });

test("search-beam: probabilities of an event's states add up to one", () => {
  const given = setUp([
    [0, 48, 4],
    [1, 55, 3],
    [2, 60, 2],
    [3, 64, 1],
  ]);
  const lattice = searchLattice(given.events, given.grips, given.costs, given.notes, given.mm, HAND_WEIGHTS);
  const posterior = nodePosteriors(lattice, 1.5);
  given.events.forEach((_, e) => {
    const [from, to] = [lattice.nodeStart[e], lattice.nodeStart[e + 1]];
    const sum = posterior.subarray(from, to).reduce((a, b) => a + b, 0);
    expect(sum).toBeCloseTo(1, 9);
  });
});
