import type { PlacedNote } from "../../../src/grid/grid.js";
import type { HandWeights } from "../../../src/hands/cost-table.js";
import { gripCost } from "../../../src/hands/fingerings.js";
import type { Instrument } from "../../../src/hands/fretted.js";
import { neckMm } from "../../../src/hands/reach.js";
import { type Lattice, searchLattice } from "../../../src/hands/search-beam.js";
import { type Event, eventsOf, type SearchNote, searchNotes } from "../../../src/hands/search-events.js";
import { type Grip, gripMaker, placesCost } from "../../../src/hands/search-grips.js";
import { restState, STRIDE, stateAfter, stepper, TIMES } from "../../../src/hands/search-step.js";

// Lattices of the search with what every edge costs by each weight, so that weights can be learnt on them without searching again.

/** What is known of a note. @property string 1…6 @property leftFinger 0…4 */
export type Mark = { string?: number; leftFinger?: number };

/** Weights that the cost of a path is linear in. */
export const LINEAR = [
  "fret",
  "high",
  "bassHigh",
  "open",
  "openBass",
  "openHigh",
  "press",
  "middle",
  "ring",
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
  "cross",
  "crossOpen",
  "crossHigh",
  "elsewhere",
  "order",
  "bass",
] as const satisfies readonly (keyof HandWeights)[];

/** @property features shape (edges, LINEAR) @property against what the node of each edge has against the marks: strings, open, fingers */
export type LearningLattice = Pick<Lattice, "nodeStart" | "edgeStart" | "edgeFrom" | "edgeTo"> & {
  features: Float32Array;
  against: Float32Array;
};

/** Kinds of disagreement with a mark, in columns of `against`. */
const AGAINST_KINDS = 3;

function against(
  grip: Grip,
  event: Event,
  markOf: readonly (Mark | undefined)[],
  out: Float32Array,
  at: number,
) {
  event.noteIdx.forEach((idx, k) => {
    const mark = markOf[idx];
    if (mark === undefined || grip.strings[k] === 0) return;
    if (mark.string !== undefined && mark.string !== grip.strings[k]) out[at] = (out[at] ?? 0) + 1;
    if (mark.leftFinger === undefined) return;
    if ((mark.leftFinger === 0) !== (grip.frets[k] === 0)) out[at + 1] = (out[at + 1] ?? 0) + 1;
    else if (mark.leftFinger !== grip.fingers[k]) out[at + 2] = (out[at + 2] ?? 0) + 1;
  });
}

/** Every weight 0 but one. */
const unit = (name: keyof HandWeights, w: Readonly<HandWeights>): HandWeights => {
  const none = Object.fromEntries(Object.keys(w).map((k) => [k, 0])) as HandWeights;
  return { ...none, guide: w.guide, heard: w.heard, [name]: 1 };
};

/** What the search sees of a piece under weights `w`. */
export function learningLattice(
  notes: readonly PlacedNote[],
  instrument: Instrument,
  marks: readonly (Mark | undefined)[],
  w: Readonly<HandWeights>,
  beam: number,
): LearningLattice {
  const mm = neckMm(instrument);
  const sought = searchNotes(notes, instrument, []);
  const grace = new Set(notes.flatMap((n, k) => (n.grace === true ? [k] : [])));
  const events = eventsOf(sought, grace);
  const markOf = marks.map((m) => m);
  sought.forEach((n, k) => {
    if (n.twinOf !== undefined) markOf[n.twinOf] = { ...markOf[k], ...markOf[n.twinOf] };
  });
  const grips = events.map(gripMaker(sought, mm, w));
  const wrong = events.map((event, e) => {
    const list = grips[e] ?? [];
    const out = new Float32Array(list.length * AGAINST_KINDS);
    list.forEach((g, k) => {
      against(g, event, markOf, out, k * AGAINST_KINDS);
    });
    return out;
  });
  const costs = grips.map((list) => Float64Array.from(list, (g) => g.cost));
  const found = searchLattice(events, grips, costs, sought, mm, w, beam);
  return withFeatures(found, events, grips, wrong, sought, mm, w);
}

function withFeatures(
  lattice: Lattice,
  events: readonly Event[],
  grips: readonly (readonly Grip[])[],
  wrong: readonly Float32Array[],
  sought: readonly SearchNote[],
  mm: Float64Array,
  w: Readonly<HandWeights>,
): LearningLattice {
  const { nodeStart, nodeGrip, nodeBack, edgeStart, edgeFrom, edgeTo } = lattice;
  const edgeCount = edgeStart[events.length] ?? 0;
  const size = LINEAR.length;
  const features = new Float32Array(edgeCount * size);
  const againstOf = new Float32Array(edgeCount * AGAINST_KINDS);
  const units = LINEAR.map((name) => unit(name, w));
  const steppers = units.map((u) => stepper(sought, mm, u));
  const walker = stepper(sought, mm, w);
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
  const rest = new Int32Array(STRIDE);
  const restTimes = new Float64Array(TIMES);
  restState(rest, restTimes);
  let states: Int32Array[] = [];
  let times: Float64Array[] = [];
  events.forEach((event, e) => {
    const before = e === 0 ? 0 : (nodeStart[e - 1] ?? 0);
    const fromOf = (node: number): [Int32Array, Float64Array] =>
      e === 0 ? [rest, restTimes] : [states[node - before] ?? rest, times[node - before] ?? restTimes];
    const gripOf = (node: number): Grip => {
      const grip = grips[e]?.[nodeGrip[node] ?? 0];
      if (grip === undefined) throw new Error("a node without a grip");
      return grip;
    };
    const edgesFrom = new Map<number, number[]>();
    for (let edge = edgeStart[e] ?? 0; edge < (edgeStart[e + 1] ?? 0); edge++) {
      const node = edgeFrom[edge] ?? 0;
      const list = edgesFrom.get(node);
      if (list === undefined) edgesFrom.set(node, [edge]);
      else list.push(edge);
      const g = nodeGrip[edgeTo[edge] ?? 0] ?? 0;
      for (let j = 0; j < AGAINST_KINDS; j++)
        againstOf[edge * AGAINST_KINDS + j] = wrong[e]?.[g * AGAINST_KINDS + j] ?? 0;
    }
    for (const [node, edges] of edgesFrom) {
      const [state, time] = fromOf(node);
      steppers.forEach((step, k) => {
        step.from(state, 0, time, 0, event);
        for (const edge of edges) {
          const grip = gripOf(edgeTo[edge] ?? 0);
          features[edge * size + k] = (ownOf(grip)[k] ?? 0) + step.cost(grip, Number.POSITIVE_INFINITY);
        }
      });
    }
    const nextStates: Int32Array[] = [];
    const nextTimes: Float64Array[] = [];
    for (let node = nodeStart[e] ?? 0; node < (nodeStart[e + 1] ?? 0); node++) {
      const grip = gripOf(node);
      const [state, time] = fromOf(nodeBack[node] ?? 0);
      walker.from(state, 0, time, 0, event);
      walker.cost(grip, Number.POSITIVE_INFINITY);
      const [s, t] = [new Int32Array(STRIDE), new Float64Array(TIMES)];
      const [kept = 0, position = 0] = walker.outcome;
      stateAfter(state, 0, time, 0, event, grip, kept, position, s, t);
      nextStates.push(s);
      nextTimes.push(t);
    }
    states = nextStates;
    times = nextTimes;
  });
  return { nodeStart, edgeStart, edgeFrom, edgeTo, features, against: againstOf };
}

/** Expected features and disagreements over all paths, each as likely as exp(−cost) says. @param markCosts added for each disagreement */
export function expectations(
  lattice: LearningLattice,
  w: Float64Array,
  markCosts: readonly number[],
): { features: Float64Array; against: Float64Array } {
  const { nodeStart, edgeStart, edgeFrom, edgeTo, features, against: wrongs } = lattice;
  const size = w.length;
  const at = (array: Int32Array | Float32Array | Float64Array, k: number): number => array[k] ?? 0;
  const count = nodeStart.length - 1;
  const nodes = at(nodeStart, count);
  const weight = new Float64Array(at(edgeStart, count));
  const alpha = new Float64Array(nodes);
  const beta = new Float64Array(nodes);
  for (let e = 0; e < count; e++) {
    const [first, last] = [at(edgeStart, e), at(edgeStart, e + 1)];
    let least = Number.POSITIVE_INFINITY;
    for (let j = first; j < last; j++) {
      let cost = 0;
      for (let k = 0; k < size; k++) cost += at(w, k) * at(features, j * size + k);
      for (let k = 0; k < AGAINST_KINDS; k++) cost += (markCosts[k] ?? 0) * at(wrongs, j * AGAINST_KINDS + k);
      weight[j] = cost;
      if (cost < least) least = cost;
    }
    let sum = 0;
    for (let j = first; j < last; j++) {
      weight[j] = Math.exp(least - at(weight, j));
      const m = at(weight, j) * (e === 0 ? 1 : at(alpha, at(edgeFrom, j)));
      alpha[at(edgeTo, j)] = at(alpha, at(edgeTo, j)) + m;
      sum += m;
    }
    for (let k = at(nodeStart, e); k < at(nodeStart, e + 1); k++) alpha[k] = at(alpha, k) / sum;
  }
  const mean = new Float64Array(size);
  const wrong = new Float64Array(AGAINST_KINDS);
  beta.fill(1, at(nodeStart, count - 1));
  for (let e = count - 1; e >= 0; e--) {
    const [first, last] = [at(edgeStart, e), at(edgeStart, e + 1)];
    let sum = 0;
    for (let j = first; j < last; j++) {
      const m = at(weight, j) * at(beta, at(edgeTo, j));
      weight[j] = m * (e === 0 ? 1 : at(alpha, at(edgeFrom, j)));
      sum += at(weight, j);
      if (e > 0) beta[at(edgeFrom, j)] = at(beta, at(edgeFrom, j)) + m;
    }
    for (let j = first; j < last; j++) {
      const p = at(weight, j) / sum;
      if (p < LEAST_MASS) continue;
      for (let k = 0; k < size; k++) mean[k] = at(mean, k) + p * at(features, j * size + k);
      for (let k = 0; k < AGAINST_KINDS; k++) wrong[k] = at(wrong, k) + p * at(wrongs, j * AGAINST_KINDS + k);
    }
    if (e === 0) break;
    let scale = 0;
    for (let k = at(nodeStart, e - 1); k < at(nodeStart, e); k++) scale += at(beta, k);
    for (let k = at(nodeStart, e - 1); k < at(nodeStart, e); k++) beta[k] = at(beta, k) / scale;
  }
  return { features: mean, against: wrong };
}

const LEAST_MASS = 1e-5; // edges less likely than this tell nothing
