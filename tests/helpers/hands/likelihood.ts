import type { PlacedNote } from "../../../src/grid/grid.js";
import type { HandWeights } from "../../../src/hands/cost-table.js";
import { gripCost } from "../../../src/hands/fingerings.js";
import type { Instrument } from "../../../src/hands/fretted.js";
import { neckMm } from "../../../src/hands/reach.js";
import { type Lattice, searchLattice } from "../../../src/hands/search-beam.js";
import { eventsOf, searchNotes } from "../../../src/hands/search-events.js";
import { type Grip, gripMaker, placesCost } from "../../../src/hands/search-grips.js";
import { restState, STRIDE, stateAfter, stepper, TIMES } from "../../../src/hands/search-step.js";

// How likely the search finds what a player marked, and which way each weight should move: a conditional random field over the
// lattice of the search whose marks may be wrong. Source of the method: Lafferty, McCallum & Pereira 2001; hidden fingers summed
// out as in Quattoni et al. 2007, with a margin as in Gimpel & Smith 2010 (a narrow beam alone would reward flat costs).

/** What is known of a note. @property string 1…6 @property leftFinger 0…4 */
export type Mark = { string?: number; leftFinger?: number };

// Cost of a grip against a mark: what a wrong mark can cost at most, so that errors of engraving pull no further.
const STRING_AGAINST = 5;
const OPEN_AGAINST = 3;
const FINGER_AGAINST = 1;
const MARGIN = 0.5; // wrong grips are made cheaper by this share of that: the right ones must win with room to spare

/** Weights that the likelihood is linear in. */
export const LINEAR = [
  "fret",
  "open",
  "openHigh",
  "press",
  "little",
  "barre",
  "barreString",
  "stretch",
  "bunch",
  "overComfort",
  "shift",
  "leap",
  "hop",
  "cut",
  "back",
  "echo",
  "elsewhere",
  "order",
  "bass",
] as const satisfies readonly (keyof HandWeights)[];

function against(grip: Grip, k: number, mark: Mark | undefined): number {
  if (mark === undefined || grip.strings[k] === 0) return 0;
  let cost = mark.string !== undefined && mark.string !== grip.strings[k] ? STRING_AGAINST : 0;
  if (mark.leftFinger !== undefined) {
    if ((mark.leftFinger === 0) !== (grip.frets[k] === 0)) cost += OPEN_AGAINST;
    else if (mark.leftFinger !== grip.fingers[k]) cost += FINGER_AGAINST;
  }
  return cost;
}

/** Every weight 0 but one. */
const unit = (name: keyof HandWeights, w: Readonly<HandWeights>): HandWeights => {
  const none = Object.fromEntries(Object.keys(w).map((k) => [k, 0])) as HandWeights;
  return { ...none, guide: w.guide, heard: w.heard, [name]: 1 };
};

/** Log-likelihood of the marks of a piece and its gradient, along LINEAR. */
export function markLikelihood(
  notes: readonly PlacedNote[],
  instrument: Instrument,
  marks: readonly (Mark | undefined)[],
  w: Readonly<HandWeights>,
): { value: number; gradient: Float64Array } {
  const mm = neckMm(instrument);
  const sought = searchNotes(notes, instrument, []);
  const grace = new Set(notes.flatMap((n, k) => (n.grace === true ? [k] : [])));
  const events = eventsOf(sought, grace);
  const markOf = marks.map((m) => m);
  sought.forEach((n, k) => {
    if (n.twinOf !== undefined) markOf[n.twinOf] = { ...markOf[k], ...markOf[n.twinOf] };
  });
  const grips = events.map(gripMaker(sought, mm, w));
  const costs = (share: number): Float64Array[] =>
    events.map((event, e) =>
      Float64Array.from(
        grips[e] ?? [],
        (g) => g.cost + share * event.noteIdx.reduce((sum, idx, k) => sum + against(g, k, markOf[idx]), 0),
      ),
    );
  const steppers = LINEAR.map((name) => stepper(sought, mm, unit(name, w)));
  const units = LINEAR.map((name) => unit(name, w));
  const own = new Map<Grip, Float64Array>();
  const ownOf = (g: Grip): Float64Array => {
    const known = own.get(g);
    if (known !== undefined) return known;
    const places = g.strings.flatMap((string, k) => (string > 0 ? [{ string, fret: g.frets[k] ?? 0 }] : []));
    const presses = g.strings
      .flatMap((string, k) =>
        (g.fingers[k] ?? 0) > 0 ? [{ string, fret: g.frets[k] ?? 0, finger: g.fingers[k] ?? 0 }] : [],
      )
      .sort((a, b) => a.fret - b.fret || b.string - a.string);
    const f = Float64Array.from(units, (u) => placesCost(places, u) + (gripCost(presses, mm, u) ?? 0));
    own.set(g, f);
    return f;
  };
  /** Expected features under the lattice, and its log partition. */
  const expected = (lattice: Lattice): { logZ: number; features: Float64Array } => {
    const features = new Float64Array(LINEAR.length);
    const { mass, logZ } = edgeMass(lattice);
    const walker = stepper(sought, mm, w);
    let states: Int32Array[] = [];
    let times: Float64Array[] = [];
    const rest = new Int32Array(STRIDE);
    const restTimes = new Float64Array(TIMES);
    restState(rest, restTimes);
    events.forEach((event, e) => {
      const before = e === 0 ? 0 : (lattice.nodeStart[e - 1] ?? 0);
      const nextStates: Int32Array[] = [];
      const nextTimes: Float64Array[] = [];
      const fromOf = (k: number): [Int32Array, Float64Array] =>
        e === 0 ? [rest, restTimes] : [states[k - before] ?? rest, times[k - before] ?? restTimes];
      const start = lattice.nodeStart[e] ?? 0;
      for (let node = start; node < (lattice.nodeStart[e + 1] ?? 0); node++) {
        const grip = grips[e]?.[lattice.nodeGrip[node] ?? 0];
        if (grip === undefined) throw new Error("a node without a grip");
        const [state, time] = fromOf(lattice.nodeBack[node] ?? 0);
        walker.from(state, 0, time, 0, event);
        walker.cost(grip, Number.POSITIVE_INFINITY);
        const s = new Int32Array(STRIDE);
        const t = new Float64Array(TIMES);
        const [kept = 0, position = 0] = walker.outcome;
        stateAfter(state, 0, time, 0, event, grip, kept, position, s, t);
        nextStates.push(s);
        nextTimes.push(t);
      }
      const first = lattice.edgeStart[e] ?? 0;
      for (let edge = first; edge < (lattice.edgeStart[e + 1] ?? 0); edge++) {
        const p = mass[edge] ?? 0;
        if (p < LEAST_MASS) continue;
        const grip = grips[e]?.[lattice.nodeGrip[lattice.edgeTo[edge] ?? 0] ?? 0];
        if (grip === undefined) throw new Error("an edge without a grip");
        const [state, time] = fromOf(lattice.edgeFrom[edge] ?? 0);
        const mine = ownOf(grip);
        steppers.forEach((step, k) => {
          step.from(state, 0, time, 0, event);
          features[k] = (features[k] ?? 0) + p * ((mine[k] ?? 0) + step.cost(grip, Number.POSITIVE_INFINITY));
        });
      }
      states = nextStates;
      times = nextTimes;
    });
    return { logZ, features };
  };
  const all = expected(searchLattice(events, grips, costs(-MARGIN), sought, mm, w));
  const right = expected(searchLattice(events, grips, costs(1), sought, mm, w));
  return {
    value: right.logZ - all.logZ,
    gradient: all.features.map((f, k) => f - (right.features[k] ?? 0)),
  };
}

const LEAST_MASS = 0.01; // edges that matter less than this are left out of the gradient

/** Probability of every edge, and the logarithm of the sum over all paths of exp(−cost). */
function edgeMass(lattice: Lattice): { mass: Float64Array; logZ: number } {
  const { nodeStart, edgeStart, edgeFrom, edgeTo, edgeCost } = lattice;
  const count = nodeStart.length - 1;
  const nodes = nodeStart[count] ?? 0;
  const edges = edgeStart[count] ?? 0;
  const alpha = new Float64Array(nodes);
  const beta = new Float64Array(nodes);
  const weight = new Float64Array(edges);
  const mass = new Float64Array(edges);
  let logZ = 0;
  for (let e = 0; e < count; e++) {
    let least = Number.POSITIVE_INFINITY;
    for (let j = edgeStart[e] ?? 0; j < (edgeStart[e + 1] ?? 0); j++)
      least = Math.min(least, edgeCost[j] ?? 0);
    let sum = 0;
    for (let j = edgeStart[e] ?? 0; j < (edgeStart[e + 1] ?? 0); j++) {
      weight[j] = Math.exp(least - (edgeCost[j] ?? 0));
      const m = (weight[j] ?? 0) * (e === 0 ? 1 : (alpha[edgeFrom[j] ?? 0] ?? 0));
      alpha[edgeTo[j] ?? 0] = (alpha[edgeTo[j] ?? 0] ?? 0) + m;
      sum += m;
    }
    for (let k = nodeStart[e] ?? 0; k < (nodeStart[e + 1] ?? 0); k++) alpha[k] = (alpha[k] ?? 0) / sum;
    logZ += Math.log(sum) - least;
  }
  for (let k = nodeStart[count - 1] ?? 0; k < nodes; k++) beta[k] = 1;
  for (let e = count - 1; e >= 0; e--) {
    let sum = 0;
    for (let j = edgeStart[e] ?? 0; j < (edgeStart[e + 1] ?? 0); j++) {
      const m = (weight[j] ?? 0) * (beta[edgeTo[j] ?? 0] ?? 0);
      mass[j] = m * (e === 0 ? 1 : (alpha[edgeFrom[j] ?? 0] ?? 0));
      sum += mass[j] ?? 0;
      if (e > 0) beta[edgeFrom[j] ?? 0] = (beta[edgeFrom[j] ?? 0] ?? 0) + m;
    }
    for (let j = edgeStart[e] ?? 0; j < (edgeStart[e + 1] ?? 0); j++) mass[j] = (mass[j] ?? 0) / sum;
    if (e === 0) break;
    let scale = 0;
    for (let k = nodeStart[e - 1] ?? 0; k < (nodeStart[e] ?? 0); k++) scale += beta[k] ?? 0;
    for (let k = nodeStart[e - 1] ?? 0; k < (nodeStart[e] ?? 0); k++) beta[k] = (beta[k] ?? 0) / scale;
  }
  return { mass, logZ };
}
