import type { HandWeights } from "./cost-table.js";
import type { Event, SearchNote } from "./search-events.js";
import type { Grip } from "./search-grips.js";
import { restState, STRIDE, stateAfter, stateHash, stepper, TIMES } from "./search-step.js";

// Dynamic programming over what the left hand holds. A state says what each string sounds (fret, finger, note), where each
// finger was last and where the hand lies. States that agree in what sounds and where the hand is are one; at most BEAM
// survive an event, so that cost grows with the number of events alone. The lattice that remains gives the best path
// (Viterbi) and, forward and backward, the probability of every place.

const BEAM = 12; // three times as many changed no measured figure by more than a hundredth
const BEAM_COST = 6; // states worse than the best by this are dropped
export type Lattice = {
  /** Nodes of event e are nodeStart[e] … nodeStart[e + 1] − 1. */
  nodeStart: Int32Array;
  nodeGrip: Int32Array;
  nodeCost: Float64Array;
  nodeBack: Int32Array;
  /** Edges into the nodes of event e are edgeStart[e] … edgeStart[e + 1] − 1. */
  edgeStart: Int32Array;
  edgeFrom: Int32Array;
  edgeTo: Int32Array;
  edgeCost: Float64Array;
};

/** Grows a typed array when it is full. */
function grown<T extends Int32Array | Float64Array>(array: T, length: number): T {
  if (length <= array.length) return array;
  const bigger = new (array.constructor as new (n: number) => T)(Math.max(length, array.length * 2));
  bigger.set(array);
  return bigger;
}

/** @param gripCost cost of each grip of each event with its evidence, weighted */
export function searchLattice(
  events: readonly Event[],
  grips: readonly (readonly Grip[])[],
  gripCost: readonly Float64Array[],
  notes: readonly SearchNote[],
  mm: Float64Array,
  w: Readonly<HandWeights>,
  beam = BEAM,
): Lattice {
  const nodeStart = new Int32Array(events.length + 1);
  const edgeStart = new Int32Array(events.length + 1);
  let nodeGrip = new Int32Array(events.length * 8 + beam);
  let nodeCost = new Float64Array(nodeGrip.length);
  let nodeBack = new Int32Array(nodeGrip.length);
  let edgeFrom = new Int32Array(events.length * 24 + 256);
  let edgeTo = new Int32Array(edgeFrom.length);
  let edgeCost = new Float64Array(edgeFrom.length);
  let nodes = 0;
  let edges = 0;

  let cur = new Int32Array(beam * STRIDE);
  let nxt = new Int32Array(beam * STRIDE);
  let curTime = new Float64Array(beam * TIMES);
  let nxtTime = new Float64Array(beam * TIMES);
  const scratch = new Int32Array(STRIDE);
  const scratchTime = new Float64Array(TIMES);
  restState(scratch, scratchTime);
  cur.set(scratch);
  curTime.set(scratchTime);
  let curCount = 1;
  const rootCost = new Float64Array([0]);
  const hashes = new Float64Array(beam);
  let order = new Int32Array(1024);
  let stepOf = new Float64Array(1024);
  let totalOf = new Float64Array(1024);
  let keptOf = new Int32Array(1024);
  let positionOf = new Int32Array(1024);
  const bucketCounts = new Int32Array(BUCKETS);
  const step = stepper(notes, mm, w);

  for (let e = 0; e < events.length; e++) {
    const event = events[e]!;
    const eventGrips = grips[e]!;
    const local = gripCost[e]!;
    const count = curCount * eventGrips.length;
    if (count > order.length) {
      order = new Int32Array(count * 2);
      stepOf = new Float64Array(count * 2);
      totalOf = new Float64Array(count * 2);
      keptOf = new Int32Array(count * 2);
      positionOf = new Int32Array(count * 2);
    }
    const prevStart = e === 0 ? 0 : nodeStart[e - 1]!;
    const costs = e === 0 ? rootCost : nodeCost;
    let best = Number.POSITIVE_INFINITY;
    let cheapest = Number.POSITIVE_INFINITY;
    for (let g = 0; g < eventGrips.length; g++) cheapest = Math.min(cheapest, local[g]!);
    let live = 0;
    for (let k = 0; k < curCount; k++) {
      const before = costs[prevStart + k]!;
      if (before + cheapest > best + BEAM_COST) break; // states come cheapest first
      step.from(cur, k * STRIDE, curTime, k * TIMES, event);
      for (let g = 0; g < eventGrips.length; g++) {
        const limit = best + BEAM_COST - before - local[g]!;
        if (limit < 0) continue;
        const cost = local[g]! + step.cost(eventGrips[g]!, limit);
        const total = before + cost;
        if (total > best + BEAM_COST) continue;
        if (total < best) best = total;
        order[live] = k * 64 + g;
        stepOf[live] = cost;
        totalOf[live] = total;
        keptOf[live] = step.outcome[0]!;
        positionOf[live] = step.outcome[1]!;
        live++;
      }
    }
    const ranked = rankedBest(totalOf, live, best, beam * 3, bucketCounts);
    nodeStart[e] = nodes;
    edgeStart[e] = edges;
    let made = 0;
    nodeGrip = grown(nodeGrip, nodes + beam);
    nodeCost = grown(nodeCost, nodes + beam);
    nodeBack = grown(nodeBack, nodes + beam);
    const most = Math.min(ranked.length, beam * 3);
    edgeFrom = grown(edgeFrom, edges + most);
    edgeTo = grown(edgeTo, edges + most);
    edgeCost = grown(edgeCost, edges + most);
    for (let r = 0; r < most; r++) {
      const j = ranked[r]!;
      const k = order[j]! >> 6;
      const g = order[j]! & 63;
      const grip = eventGrips[g]!;
      const [kept, position] = [keptOf[j]!, positionOf[j]!];
      stateAfter(cur, k * STRIDE, curTime, k * TIMES, event, grip, kept, position, scratch, scratchTime);
      const hash = stateHash(scratch);
      let at = 0;
      while (at < made && hashes[at] !== hash) at++;
      if (at === made) {
        if (made === beam) continue;
        hashes[made] = hash;
        nxt.set(scratch, made * STRIDE);
        nxtTime.set(scratchTime, made * TIMES);
        nodeGrip[nodes + made] = g;
        nodeCost[nodes + made] = totalOf[j]!;
        nodeBack[nodes + made] = prevStart + k;
        made++;
      }
      edgeFrom[edges] = prevStart + k;
      edgeTo[edges] = nodes + at;
      edgeCost[edges] = stepOf[j]!;
      edges++;
    }
    nodes += made;
    curCount = made;
    [cur, nxt] = [nxt, cur];
    [curTime, nxtTime] = [nxtTime, curTime];
  }
  nodeStart[events.length] = nodes;
  edgeStart[events.length] = edges;
  return { nodeStart, nodeGrip, nodeCost, nodeBack, edgeStart, edgeFrom, edgeTo, edgeCost };
}

const BUCKETS = 64;
const bucketOf = (over: number): number => Math.min(BUCKETS - 1, Math.floor((over / BEAM_COST) * BUCKETS));

/** Indices of the cheapest totals within BEAM_COST of the best, cheapest first, at least `most` where there are so many. Equal
 * totals keep their order. A count by buckets first, so that few are sorted. @param counts room for BUCKETS */
function rankedBest(
  totals: Float64Array,
  count: number,
  best: number,
  most: number,
  counts: Int32Array,
): number[] {
  counts.fill(0);
  for (let j = 0; j < count; j++) {
    const over = totals[j]! - best;
    if (over <= BEAM_COST) counts[bucketOf(over)]!++;
  }
  let last = 0;
  for (let sum = counts[0]!; last < BUCKETS - 1 && sum < most; sum += counts[last]!) last++;
  const out: number[] = [];
  for (let j = 0; j < count; j++) {
    const over = totals[j]! - best;
    if (over <= BEAM_COST && bucketOf(over) <= last) out.push(j);
  }
  return out.sort((a, b) => totals[a]! - totals[b]! || a - b);
}

/** Grip of each event on the cheapest path. */
export function bestPath(lattice: Lattice): Int32Array {
  const count = lattice.nodeStart.length - 1;
  const path = new Int32Array(count);
  if (count === 0) return path;
  let node = lattice.nodeStart[count - 1]!;
  for (let k = node + 1; k < lattice.nodeStart[count]!; k++)
    if (lattice.nodeCost[k]! < lattice.nodeCost[node]!) node = k;
  for (let e = count - 1; e >= 0; e--) {
    path[e] = lattice.nodeGrip[node]!;
    node = lattice.nodeBack[node]!;
  }
  return path;
}

/** Probability of every node within its event, forward and backward over the lattice. */
export function nodePosteriors(lattice: Lattice, temperature: number): Float64Array {
  const { nodeStart, edgeStart, edgeFrom, edgeTo, edgeCost } = lattice;
  const count = nodeStart.length - 1;
  const nodes = nodeStart[count]!;
  const alpha = new Float64Array(nodes);
  const beta = new Float64Array(nodes).fill(1);
  const weight = new Float64Array(edgeCost.length);
  for (let e = 0; e < count; e++) {
    let least = Number.POSITIVE_INFINITY;
    for (let j = edgeStart[e]!; j < edgeStart[e + 1]!; j++) least = Math.min(least, edgeCost[j]!);
    let sum = 0;
    for (let j = edgeStart[e]!; j < edgeStart[e + 1]!; j++) {
      weight[j] = Math.exp((least - edgeCost[j]!) / temperature);
      const mass = weight[j]! * (e === 0 ? 1 : alpha[edgeFrom[j]!]!);
      alpha[edgeTo[j]!]! += mass;
      sum += mass;
    }
    for (let k = nodeStart[e]!; k < nodeStart[e + 1]!; k++) alpha[k]! /= sum;
  }
  for (let e = count - 1; e > 0; e--) {
    for (let k = nodeStart[e - 1]!; k < nodeStart[e]!; k++) beta[k] = 0;
    let sum = 0;
    for (let j = edgeStart[e]!; j < edgeStart[e + 1]!; j++) {
      const mass = weight[j]! * beta[edgeTo[j]!]!;
      beta[edgeFrom[j]!]! += mass;
      sum += mass;
    }
    for (let k = nodeStart[e - 1]!; k < nodeStart[e]!; k++) beta[k]! /= sum;
  }
  for (let e = 0; e < count; e++) {
    let sum = 0;
    for (let k = nodeStart[e]!; k < nodeStart[e + 1]!; k++) {
      alpha[k]! *= beta[k]!;
      sum += alpha[k]!;
    }
    for (let k = nodeStart[e]!; k < nodeStart[e + 1]!; k++) alpha[k]! /= sum;
  }
  return alpha;
}
