import type { HandWeights } from "./cost-table.js";
import { mostReachMm } from "./reach.js";
import type { Event, SearchNote } from "./search-events.js";
import type { Grip } from "./search-grips.js";

// One step of the search: what it costs to go from a state of the left hand to a grip, and the state after it.

const RING_TOL_SEC = 0.06; // offsets are heard no closer than this
const LONG_RING_SEC = 0.5; // a note that still has this long to ring is cut at full cost
const ECHO_SEC = 1.2; // notes of one arpeggio follow within this
const HIGH_POSITION = 2; // from here the hand leaves the range of open-string grips
const HIGH_SPAN = 4; // frets further up it has left it
const LINE_SEC = 1; // a line goes on within this
const STEP = 2; // semitones
const SAME_SEC = 2.5; // a pitch that comes again within this is looked for where it was
const HOP_SEC = 0.8; // a finger has this long to leave one string for another with ease
const FIRST_FRET_MM = 36; // unit of a shift

// State in integers: fret, finger and ringing note of strings 1…6, string and fret where fingers 1…4 last were, position of the
// hand, last note of strings 1…6 whether it rings or not. −1 for none.
const FRET = 0;
const FINGER = 6;
const NOTE = 12;
const LAST_STRING = 18;
const LAST_FRET = 22;
const POSITION = 26;
const LAST_NOTE = 27;
export const STRIDE = 33;
// State in seconds: when fingers 1…4 last pressed, when any did.
const ANY_PRESSED = 4;
export const TIMES = 5;

/** The hand before the first note: in first position, nothing down. */
export function restState(state: Int32Array, times: Float64Array): void {
  state.fill(0);
  for (let s = 0; s < 6; s++) state[FRET + s] = state[NOTE + s] = state[LAST_NOTE + s] = -1;
  state[POSITION] = 1;
  times.fill(-10);
}

/** What makes states differ: sounding frets and fingers, and the position, as one exact integer below 2^53. */
export function stateHash(state: Int32Array): number {
  let h = state[POSITION]!;
  for (let s = 0; s < 6; s++)
    // 151 > 1 + 29 · 5 + 4, and 151^6 · 30 < 2^49
    h = h * 151 + (state[FRET + s]! < 0 ? 0 : 1 + state[FRET + s]! * 5 + state[FINGER + s]!);
  return h;
}

/** Costs of leaving one state; `from` must be called for the state before `cost`. */
export type Stepper = {
  from: (states: Int32Array, base: number, times: Float64Array, timeBase: number, event: Event) => void;
  /** Cost of the step without the grip's own; anything over `limit` when it is more than that. */
  cost: (grip: Grip, limit: number) => number;
  /** What the last `cost` within its limit found: the strings that ring on (bit s for string s + 1), and the position. */
  outcome: Int32Array;
};

/** Writes the state after a step from the state at `base` and `timeBase`. @param kept, position as `outcome` had them */
export function stateAfter(
  states: Int32Array,
  base: number,
  times: Float64Array,
  timeBase: number,
  event: Event,
  grip: Grip,
  kept: number,
  position: number,
  state: Int32Array,
  time: Float64Array,
): void {
  for (let j = 0; j < STRIDE; j++) state[j] = states[base + j]!;
  for (let j = 0; j < TIMES; j++) time[j] = times[timeBase + j]!;
  for (let s = 0; s < 6; s++)
    if ((kept & (1 << s)) === 0) {
      state[FRET + s] = -1;
      state[FINGER + s] = 0;
      state[NOTE + s] = -1;
    }
  for (let k = 0; k < grip.strings.length; k++) {
    const string = grip.strings[k]!;
    if (string === 0) continue;
    const f = grip.fingers[k]!;
    const idx = event.noteIdx[k]!;
    state[FRET + string - 1] = grip.frets[k]!;
    state[FINGER + string - 1] = f;
    state[NOTE + string - 1] = idx;
    state[LAST_NOTE + string - 1] = idx;
    if (f > 0) {
      state[LAST_STRING + f - 1] = string;
      state[LAST_FRET + f - 1] = grip.frets[k]!;
      time[f - 1] = event.onsetSec;
      time[ANY_PRESSED] = event.onsetSec;
    }
  }
  state[POSITION] = position;
}

export function stepper(notes: readonly SearchNote[], mm: Float64Array, w: Readonly<HandWeights>): Stepper {
  const endSec = Float64Array.from(notes, (n) => n.endSec);
  const heldSec = Float64Array.from(notes, (n) => n.heldSec);
  const onsetSec = Float64Array.from(notes, (n) => n.onsetSec);
  const midi = Float64Array.from(notes, (n) => n.midi);
  const cutOf = Float64Array.from(notes, (n) => (n.confidence < 1 ? w.cut * w.heard : w.cut)); // 1 is what was written
  const most = new Float64Array(25); // by 5 · low + high finger
  for (let a = 1; a <= 4; a++) for (let b = a + 1; b <= 4; b++) most[5 * a + b] = mostReachMm(a, b);
  const was = new Int32Array(STRIDE);
  const wasTimes = new Float64Array(TIMES);
  const rings = new Int32Array(6); // strings (0…5) that ring at the event
  const ringCost = new Float64Array(6); // cost of stopping each
  const fresh = new Float64Array(5); // 1 for a finger that has just pressed, 0 for one that had time to move
  const echo = new Float64Array(6); // weight of plucking each string again with a leap
  const sameString = new Int32Array(6); // string where the event's note was last, 0 when that is long ago
  const sameCost = new Float64Array(6);
  const openMidi = new Float64Array(6);
  for (const n of notes) for (const p of n.places) openMidi[p.string - 1] = n.midi - p.fret;
  const lineString = new Int32Array(6); // string of the note a step away that came just before, 0 for none
  const lineOpen = new Int32Array(6); // 1 when that string was open
  const outcome = new Int32Array(2);
  let ringCount = 0;
  let hurry = 1;
  let event: Event | undefined;
  let now = 0;

  const from: Stepper["from"] = (states, base, times, timeBase, next) => {
    event = next;
    now = next.onsetSec;
    for (let j = 0; j < STRIDE; j++) was[j] = states[base + j]!;
    for (let j = 0; j < TIMES; j++) wasTimes[j] = times[timeBase + j]!;
    ringCount = 0;
    for (let s = 0; s < 6; s++) {
      const last = was[LAST_NOTE + s]!;
      const ago = last < 0 ? ECHO_SEC : now - onsetSec[last]!;
      echo[s] = ago < ECHO_SEC ? w.echo * (1 - ago / ECHO_SEC) : 0;
      const idx = was[NOTE + s]!;
      if (idx < 0) continue;
      const left = endSec[idx]! - now;
      const held = heldSec[idx]! - now > RING_TOL_SEC;
      if (left <= RING_TOL_SEC && !held) continue;
      const cut = left <= RING_TOL_SEC ? 0 : cutOf[idx]! * Math.min(1, left / LONG_RING_SEC);
      rings[ringCount] = s;
      ringCost[ringCount++] = held ? cut + w.back : cut;
    }
    for (let k = 0; k < next.noteIdx.length && k < 6; k++) {
      sameString[k] = 0;
      lineString[k] = 0;
      let lineSec = now - LINE_SEC;
      let latest = now - SAME_SEC;
      for (let s = 0; s < 6; s++) {
        const last = was[LAST_NOTE + s]!;
        if (last < 0) continue;
        const step = Math.abs(midi[last]! - midi[next.noteIdx[k]!]!);
        if (step > 0 && step <= STEP && onsetSec[last]! > lineSec) {
          lineSec = onsetSec[last]!;
          lineString[k] = s + 1;
          lineOpen[k] = midi[last] === openMidi[s] ? 1 : 0;
        }
        if (onsetSec[last]! <= latest || step !== 0) continue;
        latest = onsetSec[last]!;
        sameString[k] = s + 1;
        sameCost[k] = w.elsewhere * (1 - (now - latest) / SAME_SEC);
      }
    }
    for (let f = 1; f <= 4; f++) fresh[f] = Math.max(0, 1 - (now - wasTimes[f - 1]!) / HOP_SEC);
    const sinceSec = Math.max(0.02, now - wasTimes[ANY_PRESSED]!);
    hurry = Math.min(1.6, Math.max(0.5, Math.sqrt(0.25 / sinceSec)));
  };

  /** Two fingers down at once: undefined reach is a cost of 1000. */
  const pairCost = (
    fa: number,
    fretA: number,
    stringA: number,
    fb: number,
    fretB: number,
    stringB: number,
  ): number => {
    const lowFinger = Math.min(fa, fb);
    const highFinger = Math.max(fa, fb);
    const lo = fa < fb ? fretA : fretB;
    const hi = fa < fb ? fretB : fretA;
    const along = mm[hi + 1]! - mm[lo + 1]!;
    if (along < 0 || along > most[5 * lowFinger + highFinger]!) return 1000;
    const natural = mm[lo + 1 + highFinger - lowFinger]! - mm[lo + 1]!;
    if (along > natural) return 0.1 * w.stretch * (along - natural);
    const crowd = natural - along - (mm[lo + 2]! - mm[lo + 1]!);
    const crossed = lo === hi && (fa < fb ? stringA < stringB : stringB < stringA);
    return (crowd > 0 ? 0.1 * w.bunch * crowd : 0) + (crossed ? w.order : 0);
  };

  const cost: Stepper["cost"] = (grip, limit) => {
    const { strings, frets, fingers } = grip;
    const n = strings.length;
    let sum = 0;
    let kept = 0;
    let position = grip.position;
    let lowest = grip.lowestFinger;
    // What keeps ringing, and what must stop.
    for (let r = 0; r < ringCount; r++) {
      const s = rings[r]!;
      const fret = was[FRET + s]!;
      const finger = was[FINGER + s]!;
      if ((grip.stringMask & (2 << s)) !== 0) {
        // Plucked again: the same note goes on, another stops it.
        let again = false;
        for (let k = 0; k < n; k++)
          if (strings[k] === s + 1 && frets[k] === fret) {
            again = true;
            if (fret > 0 && fingers[k] !== finger) sum += w.hop;
          }
        if (!again) sum += ringCost[r]!;
        continue;
      }
      let stops = grip.barreFret > fret && s + 1 > grip.barreFrom && s + 1 < grip.barreTo;
      let joint = 0;
      if (fret > 0)
        for (let k = 0; k < n && !stops; k++) {
          const f = fingers[k]!;
          if (f === 0) continue;
          if (f !== finger) {
            const pair = pairCost(f, frets[k]!, strings[k]!, finger, fret, s + 1);
            if (pair >= 1000) stops = true;
            else joint += pair;
          } else if (frets[k] !== fret) stops = true;
          else {
            // One finger over both strings: nothing lower may sound between them.
            const a = Math.min(s + 1, strings[k]!);
            const b = Math.max(s + 1, strings[k]!);
            for (let j = 0; j < n; j++)
              if (strings[j]! > a && strings[j]! < b && frets[j]! < fret) stops = true;
            joint += w.barre * 0.5;
          }
        }
      if (stops) {
        sum += ringCost[r]!;
        if (sum > limit) return sum;
        continue;
      }
      sum += joint;
      kept |= 1 << s;
      if (finger > 0 && finger < lowest) {
        lowest = finger;
        position = Math.max(0, fret - finger + 1);
      }
    }
    if (sum > limit) return sum;
    // Where the hand goes.
    const lay = was[POSITION]!;
    if (position < 0) position = lay;
    let shift = 0;
    if (position !== lay) {
      shift = (w.shift * Math.abs(mm[position + 1]! - mm[lay + 1]!)) / FIRST_FRET_MM;
      if (position > lay + 1 || position < lay - 1) shift += w.leap;
      shift *= hurry;
    }
    if (sum + shift * (1 - w.guide) > limit) return sum + shift;
    // How each finger gets there.
    let guided = false;
    for (let k = 0; k < n; k++) {
      const string = strings[k]!;
      if (string === 0) continue;
      const fret = frets[k]!;
      if (echo[string - 1]! > 0) {
        const leap = Math.abs(midi[was[LAST_NOTE + string - 1]!]! - midi[event!.noteIdx[k]!]!) - 2;
        if (leap > 0) sum += echo[string - 1]! * Math.min(1, leap / 2);
      }
      if (k < 6) {
        if (sameString[k]! > 0 && sameString[k] !== string) sum += sameCost[k]!;
        if (lineString[k]! > 0 && lineString[k] !== string) {
          if (fret > 0 && lineOpen[k] === 0) sum += w.cross;
          else {
            sum += w.crossOpen;
            if (position > HIGH_POSITION)
              sum += w.crossHigh * Math.min(1, (position - HIGH_POSITION) / HIGH_SPAN);
          }
        }
      }
      const f = fingers[k]!;
      if (f === 0) {
        if (string <= 3 && position > HIGH_POSITION)
          sum += w.openHigh * Math.min(1, (position - HIGH_POSITION) / HIGH_SPAN);
        continue;
      }
      const lastString = was[LAST_STRING + f - 1]!;
      const lastFret = was[LAST_FRET + f - 1]!;
      if (lastString === string && lastFret === fret) continue;
      sum += w.press;
      if (fresh[f]! > 0) {
        if (lastString === string) {
          guided = true;
          if (position === lay) sum += w.hop * fresh[f]!;
        } else if (lastFret !== fret || (kept & (1 << (lastString - 1))) === 0) sum += w.hop * fresh[f]!;
      }
      // Against the order of fingers that were down a moment ago.
      for (let g = 1; g <= 4; g++) {
        if (g === f || fresh[g] === 0) continue;
        const other = was[LAST_FRET + g - 1]!;
        if ((f < g && fret > other) || (f > g && fret < other)) sum += w.order * fresh[g]!;
      }
    }
    outcome[0] = kept;
    outcome[1] = position;
    return sum + (guided ? shift * (1 - w.guide) : shift);
  };

  return { from, cost, outcome };
}
