import type { HandWeights } from "./cost-table.js";
import { mostReachMm } from "./reach.js";
import type { Event, SearchNote } from "./search-events.js";
import type { Grip } from "./search-grips.js";

// Dynamic programming over what the left hand holds. A state says what each string sounds (fret, finger, note), where each
// finger was last and where the hand lies. States that agree in what sounds and where the hand is are one; at most BEAM
// survive an event, so that cost grows with the number of events alone. The lattice that remains gives the best path
// (Viterbi) and, forward and backward, the probability of every place.

const BEAM = 20; // more states changed no measured figure
const BEAM_COST = 9; // states worse than the best by this are dropped: e^(−9/temperature) of its probability
const RING_TOL_SEC = 0.06; // offsets are heard no closer than this
const LONG_RING_SEC = 0.5; // a note that still has this long to ring is cut at full cost
const HOP_SEC = 0.8; // a finger has this long to leave one string for another with ease

// State in integers: fret, finger and note of strings 1…6, string and fret of fingers 1…4, position.
const FRET = 0;
const FINGER = 6;
const NOTE = 12;
const LAST_STRING = 18;
const LAST_FRET = 22;
const POSITION = 26;
const STRIDE = 27;
// State in seconds: when fingers 1…4 last pressed, when any did.
const PRESSED = 0;
const ANY_PRESSED = 4;
const TIMES = 5;

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
): Lattice {
  const nodeStart = new Int32Array(events.length + 1);
  const edgeStart = new Int32Array(events.length + 1);
  let nodeGrip = new Int32Array(events.length * 8 + BEAM);
  let nodeCost = new Float64Array(nodeGrip.length);
  let nodeBack = new Int32Array(nodeGrip.length);
  let edgeFrom = new Int32Array(events.length * 24 + 256);
  let edgeTo = new Int32Array(edgeFrom.length);
  let edgeCost = new Float64Array(edgeFrom.length);
  let nodes = 0;
  let edges = 0;

  let cur = new Int32Array(BEAM * STRIDE);
  let nxt = new Int32Array(BEAM * STRIDE);
  let curTime = new Float64Array(BEAM * TIMES);
  let nxtTime = new Float64Array(BEAM * TIMES);
  const scratch = new Int32Array(STRIDE);
  const scratchTime = new Float64Array(TIMES);
  cur.fill(0);
  for (let s = 0; s < 6; s++) {
    cur[FRET + s] = -1;
    cur[NOTE + s] = -1;
  }
  cur[POSITION] = 1;
  curTime.fill(-10);
  let curCount = 1;
  const rootCost = new Float64Array([0]);
  const hashes = new Float64Array(BEAM);
  let order = new Int32Array(1024);
  let stepOf = new Float64Array(1024);
  let totalOf = new Float64Array(1024);

  const reachOk = (fa: number, a: number, fb: number, b: number): boolean => {
    if (fa === fb) return a === b;
    const lowFret = fa < fb ? a : b;
    const highFret = fa < fb ? b : a;
    const along = mm[highFret + 1]! - mm[lowFret + 1]!;
    return along >= 0 && along <= mostReachMm(Math.min(fa, fb), Math.max(fa, fb));
  };

  /** Cost of one step, and the state after it in scratch when `write`. */
  const step = (base: number, tbase: number, grip: Grip, event: Event, write: boolean): number => {
    const now = event.onsetSec;
    const { strings, frets, fingers } = grip;
    const n = strings.length;
    let cost = 0;
    // What keeps ringing, and what must stop.
    let kept = 0;
    for (let s = 0; s < 6; s++) {
      const idx = cur[base + NOTE + s]!;
      if (idx < 0) continue;
      const left = notes[idx]!.endSec - now;
      if (left <= RING_TOL_SEC) continue;
      const fret = cur[base + FRET + s]!;
      const finger = cur[base + FINGER + s]!;
      let stops = false;
      if ((grip.stringMask & (2 << s)) !== 0) {
        stops = true;
        for (let k = 0; k < n; k++)
          if (strings[k] === s + 1 && frets[k] === fret) {
            stops = false; // plucked again: what rang goes on
            if (fret > 0 && fingers[k] !== finger) cost += w.hop;
            break;
          }
        if (!stops) continue;
      } else {
        for (let k = 0; k < n && !stops; k++) {
          const f = fingers[k]!;
          if (f === 0) continue;
          if (fret > 0) stops = !reachOk(f, frets[k]!, finger, fret);
          if (!stops && f === finger) {
            // One finger over both strings: nothing lower may sound between them.
            for (let b = Math.min(s + 1, strings[k]!); b <= Math.max(s + 1, strings[k]!); b++)
              for (let j = 0; j < n; j++) if (strings[j] === b && frets[j]! < fret) stops = true;
            if (!stops) cost += w.barre * 0.5;
          }
        }
        if (!stops && fret >= 0) {
          // A barre of this grip over the ringing string, stopped higher than it sounds.
          for (let k = 0; k < n && !stops; k++)
            for (let j = 0; j < k; j++)
              if (
                fingers[k] !== 0 &&
                fingers[k] === fingers[j] &&
                fret < frets[k]! &&
                s + 1 > Math.min(strings[k]!, strings[j]!) &&
                s + 1 < Math.max(strings[k]!, strings[j]!)
              )
                stops = true;
        }
      }
      if (stops) cost += w.cut * Math.min(1, left / LONG_RING_SEC);
      else kept |= 1 << s;
    }
    // Where the hand goes.
    let position = grip.position;
    let lowestFinger = 9;
    if (position >= 0)
      for (let k = 0; k < n; k++) if (fingers[k]! > 0) lowestFinger = Math.min(lowestFinger, fingers[k]!);
    for (let s = 0; s < 6; s++) {
      if ((kept & (1 << s)) === 0) continue;
      const finger = cur[base + FINGER + s]!;
      if (finger === 0) continue;
      if (finger < lowestFinger) {
        lowestFinger = finger;
        position = Math.max(0, cur[base + FRET + s]! - finger + 1);
      }
      // The grip that is held and the fingers that come down are one grip.
      for (let k = 0; k < n; k++) {
        const f = fingers[k]!;
        if (f === 0 || f === finger) continue;
        const lo = f < finger ? frets[k]! : cur[base + FRET + s]!;
        const hi = f < finger ? cur[base + FRET + s]! : frets[k]!;
        const natural = mm[lo + 1 + Math.abs(f - finger)]! - mm[lo + 1]!;
        const along = mm[hi + 1]! - mm[lo + 1]!;
        cost += along > natural ? 0.1 * w.stretch * (along - natural) : 0.1 * w.bunch * (natural - along);
        const lowString = f < finger ? strings[k]! : s + 1;
        const highString = f < finger ? s + 1 : strings[k]!;
        if (lo === hi && lowString < highString) cost += w.order;
      }
    }
    const was = cur[base + POSITION]!;
    if (position < 0) position = was;
    const sinceSec = Math.max(0.02, now - curTime[tbase + ANY_PRESSED]!);
    const hurry =
      sinceSec > 1.6 ? 0.5 : sinceSec < 0.1 ? 1.6 : Math.min(1.6, Math.max(0.5, Math.sqrt(0.25 / sinceSec)));
    let shift = 0;
    if (position !== was) {
      shift = (w.shift * Math.abs(mm[position + 1]! - mm[was + 1]!)) / 35;
      if (Math.abs(position - was) > 1) shift += w.leap;
      shift *= hurry;
    }
    // How each finger gets there.
    let guided = false;
    for (let k = 0; k < n; k++) {
      const f = fingers[k]!;
      if (f === 0) continue;
      const ls = cur[base + LAST_STRING + f - 1]!;
      const lf = cur[base + LAST_FRET + f - 1]!;
      if (ls === strings[k] && lf === frets[k]) continue;
      cost += w.press;
      const age = now - curTime[tbase + PRESSED + f - 1]!;
      if (age < HOP_SEC && ls > 0) {
        if (ls === strings[k]) {
          guided = true;
          if (position === was) cost += w.hop * (1 - age / HOP_SEC);
        } else if (!(lf === frets[k] && Math.abs(ls - strings[k]!) === 1 && (kept & (1 << (ls - 1))) !== 0))
          cost += w.hop * (1 - age / HOP_SEC);
      }
      // Against the order of fingers that were down a moment ago, with the hand where it was.
      for (let g = 1; g <= 4; g++) {
        if (g === f) continue;
        const gf = cur[base + LAST_FRET + g - 1]!;
        const gAge = now - curTime[tbase + PRESSED + g - 1]!;
        if (gf === 0 || gAge > HOP_SEC) continue;
        if ((f < g && frets[k]! > gf) || (f > g && frets[k]! < gf)) cost += w.order * (1 - gAge / HOP_SEC);
      }
    }
    cost += guided ? shift * (1 - w.guide) : shift;
    if (!write) return cost;
    for (let j = 0; j < STRIDE; j++) scratch[j] = cur[base + j]!;
    for (let j = 0; j < TIMES; j++) scratchTime[j] = curTime[tbase + j]!;
    for (let s = 0; s < 6; s++)
      if ((kept & (1 << s)) === 0) {
        scratch[FRET + s] = -1;
        scratch[FINGER + s] = 0;
        scratch[NOTE + s] = -1;
      }
    for (let k = 0; k < n; k++) {
      const string = strings[k]!;
      if (string === 0) continue;
      const f = fingers[k]!;
      scratch[FRET + string - 1] = frets[k]!;
      scratch[FINGER + string - 1] = f;
      scratch[NOTE + string - 1] = event.noteIdx[k]!;
      if (f > 0) {
        scratch[LAST_STRING + f - 1] = string;
        scratch[LAST_FRET + f - 1] = frets[k]!;
        scratchTime[PRESSED + f - 1] = now;
        scratchTime[ANY_PRESSED] = now;
      }
    }
    scratch[POSITION] = position;
    return cost;
  };

  /** What makes states differ: sounding frets and fingers, and the position, as one exact integer below 2^53. */
  const hashOf = (): number => {
    let h = scratch[POSITION]!;
    for (let s = 0; s < 6; s++) {
      const v = scratch[FRET + s]! < 0 ? 0 : 1 + scratch[FRET + s]! * 5 + scratch[FINGER + s]!;
      h = h * 151 + v; // 151 > 1 + 29 · 5 + 4, and 151^6 · 30 < 2^49
    }
    return h;
  };

  for (let e = 0; e < events.length; e++) {
    const event = events[e]!;
    const eventGrips = grips[e]!;
    const local = gripCost[e]!;
    const count = curCount * eventGrips.length;
    if (count > order.length) {
      order = new Int32Array(count * 2);
      stepOf = new Float64Array(count * 2);
      totalOf = new Float64Array(count * 2);
    }
    const prevStart = e === 0 ? 0 : nodeStart[e - 1]!;
    const costs = e === 0 ? rootCost : nodeCost;
    let best = Number.POSITIVE_INFINITY;
    let cheapest = Number.POSITIVE_INFINITY;
    for (let g = 0; g < eventGrips.length; g++) cheapest = Math.min(cheapest, local[g]!);
    let live = 0;
    for (let k = 0; k < curCount; k++) {
      const before = costs[prevStart + k]!;
      for (let g = 0; g < eventGrips.length; g++) {
        if (before + local[g]! > best + BEAM_COST) continue;
        const cost = local[g]! + step(k * STRIDE, k * TIMES, eventGrips[g]!, event, false);
        const total = before + cost;
        if (total > best + BEAM_COST) continue;
        if (total < best) best = total;
        order[live] = k * 64 + g;
        stepOf[live] = cost;
        totalOf[live] = total;
        live++;
      }
    }
    // Keep the best few hundred transitions by a histogram, best first within what is written.
    const ranked: number[] = [];
    for (let j = 0; j < live; j++) if (totalOf[j]! <= best + BEAM_COST) ranked.push(j);
    ranked.sort((a, b) => totalOf[a]! - totalOf[b]! || order[a]! - order[b]!);
    nodeStart[e] = nodes;
    edgeStart[e] = edges;
    let made = 0;
    nodeGrip = grown(nodeGrip, nodes + BEAM);
    nodeCost = grown(nodeCost, nodes + BEAM);
    nodeBack = grown(nodeBack, nodes + BEAM);
    const most = Math.min(ranked.length, BEAM * 4);
    edgeFrom = grown(edgeFrom, edges + most);
    edgeTo = grown(edgeTo, edges + most);
    edgeCost = grown(edgeCost, edges + most);
    for (let r = 0; r < most; r++) {
      const j = ranked[r]!;
      const k = order[j]! >> 6;
      const g = order[j]! & 63;
      step(k * STRIDE, k * TIMES, eventGrips[g]!, event, true);
      const hash = hashOf();
      let at = 0;
      while (at < made && hashes[at] !== hash) at++;
      if (at === made) {
        if (made === BEAM) continue;
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
