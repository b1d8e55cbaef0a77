// Listening again over repeats: bars that are the same music share their evidence.
// In: a Listening, the bars with their beats, a group number a bar. Out: notes decided anew, and how many changed.
// Method: a spot is a pitch at a place of the bar (in beats). Every sibling bar is asked for its onset evidence at that spot, and
// counts for as much as the two bars are otherwise alike about it, so that a varied ending asks its own kind. The log odds that an
// onset was played are a sum of its own evidence, its siblings' and what is known of false onsets (overtones come in every repeat);
// weights in pool-table.ts. What is clear by itself stays: it is a variation, and what is clearly absent is not added. Source: log
// odds add for independent evidence (naive Bayes); logistic regression, Cox 1958, finds what they are worth when they are not.
// Effect: tests/bench/grid-heard.bench.ts. Cannot do: mend what is misheard alike in every repeat.
import { clamp, logit, sigmoid } from "../base/numbers.js";
import { type EvidenceMap, type Listening, LOGIT_STEPS, type PlayedNote } from "./played-note.js";
import { POOL_WEIGHTS, type PoolFeature } from "./pool-table.js";

const POOL_DEFAULTS = Object.freeze({
  nearSec: 0.05, // onsets this near the same place of the bar are the same note
  sure: 4, // logits, the listener's own: evidence this clear is not argued with
  clearlyAbsent: -3, // logits: what is so plainly not there is not added
  most: 5, // logits: no single onset speaks louder
  unheard: -2.5, // logits, at most, of a sibling that has no onset there: a flank of another note's peak must not count as one
  addAbove: 0.2, // log odds after pooling: what is added must be more likely than not
  dropBelow: -0.2,
  sameNoteSec: 0.06, // a second onset of a pitch nearer than this is no new note
  leastSiblings: 1.2, // in sum of their likeness; one sibling alone may share the slip
  mostSiblings: 16, // the nearest bars; more add nothing
  nothing: -1, // logits in the mean of the siblings, under which they have nothing there: a false onset would have left a trace in them
  overtones: [12, 19, 24] as readonly number[], // semitones of the second, third and fourth partial
  overtoneOf: 0.5, // confidence of a note whose overtones may be taken for notes
  doubt: 0.5, // siblings' worth of doubt on either side of a share
});

/** A bar with its beats: `beatSec` from its first beat to the next bar's, rising. */
export type PoolBar = { startSec: number; endSec: number; beatSec: readonly number[] };

/** A doubtful onset and all that speaks for or against it. */
export type PoolCase = { note: PlayedNote; isPicked: boolean; features: Record<PoolFeature, number> };

/** Pools evidence over bars that are the same music; where nothing repeats, the notes come back as they were.
 * @param groupOfBar one number a bar, equal = the same music
 * @returns notes by onset then pitch; `changed` counts notes added and taken away */
export function poolRepeats(
  listening: Listening,
  bars: readonly PoolBar[],
  groupOfBar: readonly number[],
): { notes: PlayedNote[]; changed: number } {
  const { notes } = listening;
  const dropped = new Set<PlayedNote>();
  const surer = new Map<PlayedNote, number>();
  const hopefuls: PlayedNote[] = [];
  for (const { note, isPicked, features } of poolCases(listening, bars, groupOfBar)) {
    const odds = oddsOf(features);
    const confidence = sigmoid(clamp(odds, -6, 6));
    if (isPicked && odds < POOL_DEFAULTS.dropBelow) dropped.add(note);
    else if (isPicked) surer.set(note, Math.max(0.5, confidence));
    else if (odds > POOL_DEFAULTS.addAbove) hopefuls.push({ ...note, confidence });
  }
  const kept = notes.flatMap((note) => {
    if (dropped.has(note)) return [];
    const confidence = surer.get(note);
    return [confidence === undefined ? note : { ...note, confidence }];
  });
  hopefuls.sort((x, y) => y.confidence - x.confidence || x.onsetSec - y.onsetSec || x.midi - y.midi);
  const added: PlayedNote[] = [];
  for (const candidate of hopefuls) {
    const near = (n: PlayedNote): boolean =>
      n.midi === candidate.midi && Math.abs(n.onsetSec - candidate.onsetSec) < POOL_DEFAULTS.sameNoteSec;
    if (!kept.some(near) && !added.some(near)) added.push(candidate);
  }
  const out = added.length > 0 ? endAtRestrike([...kept, ...added]) : kept;
  return { notes: out, changed: dropped.size + added.length };
}

/** Log odds that an onset was played. */
const oddsOf = (features: Record<PoolFeature, number>): number =>
  Object.entries(features).reduce((sum, [name, x]) => sum + POOL_WEIGHTS[name as PoolFeature] * x, 0);

/** The onsets that are argued about, with their features; none where nothing repeats. */
export function poolCases(
  listening: Listening,
  bars: readonly PoolBar[],
  groupOfBar: readonly number[],
): PoolCase[] {
  const { notes, candidates, evidence } = listening;
  const all = [...notes, ...candidates].sort((a, b) => a.onsetSec - b.onsetSec || a.midi - b.midi);
  const picked = new Set(notes);
  const byPitch = new Map<number, PlayedNote[]>();
  for (const n of all) {
    const list = byPitch.get(n.midi);
    if (list === undefined) byPitch.set(n.midi, [n]);
    else list.push(n);
  }
  const members = membersOf(bars.length, groupOfBar);
  const likeness = likenessOf(notes, bars);
  return all.flatMap((note): PoolCase[] => {
    const own = logit(note.confidence);
    if (own > POOL_DEFAULTS.sure || own < POOL_DEFAULTS.clearlyAbsent) return [];
    const b = barAt(bars, note.onsetSec);
    if (b === undefined) return [];
    const place = placeIn(bars[b] as PoolBar, note.onsetSec);
    const siblings = nearest(members.get(groupOfBar[b] as number) ?? [], b);
    const heard = siblings.map((m) => ({
      weight: likeness(b, m, Math.floor(place), note.midi),
      logit: heardAt(byPitch.get(note.midi) ?? [], evidence, note.midi, timeAt(bars[m] as PoolBar, place)),
    }));
    const mass = heard.reduce((sum, h) => sum + h.weight, 0);
    if (mass < POOL_DEFAULTS.leastSiblings) return [];
    return [{ note, isPicked: picked.has(note), features: featuresOf(note, own, heard, mass, all) }];
  });
}

type Heard = { weight: number; logit: number };

function featuresOf(
  note: PlayedNote,
  own: number,
  heard: readonly Heard[],
  mass: number,
  all: readonly PlayedNote[],
): Record<PoolFeature, number> {
  const { doubt, nearSec, nothing, overtones, overtoneOf } = POOL_DEFAULTS;
  const mean = heard.reduce((sum, h) => sum + h.weight * h.logit, 0) / mass;
  const has = heard.reduce((sum, h) => sum + h.weight * sigmoid(h.logit), 0);
  const isOver = around(all, note.onsetSec, nearSec).some(
    (n) => overtones.includes(note.midi - n.midi) && n.confidence > overtoneOf,
  );
  const unknown = Math.max(0, nothing - mean);
  return {
    one: 1,
    own,
    share: logit((has + doubt) / (mass + 2 * doubt)),
    unknown,
    overtone: isOver ? 1 : 0,
    overtoneUnknown: isOver ? unknown : 0,
  };
}

/** Notes within `reachSec` of a moment. @param all by onset */
function around(all: readonly PlayedNote[], sec: number, reachSec: number): PlayedNote[] {
  let low = 0;
  let high = all.length;
  while (low < high) {
    const mid = (low + high) >> 1;
    if ((all[mid] as PlayedNote).onsetSec < sec - reachSec) low = mid + 1;
    else high = mid;
  }
  const out: PlayedNote[] = [];
  for (let k = low; k < all.length && (all[k] as PlayedNote).onsetSec <= sec + reachSec; k++)
    out.push(all[k] as PlayedNote);
  return out;
}

function membersOf(barCount: number, groupOfBar: readonly number[]): Map<number, number[]> {
  const members = new Map<number, number[]>();
  for (let b = 0; b < barCount; b++) {
    const group = groupOfBar[b];
    if (group === undefined) continue;
    const list = members.get(group);
    if (list === undefined) members.set(group, [b]);
    else list.push(b);
  }
  return members;
}

/** The bars of a group nearest to one of them, without it. @param members rising */
function nearest(members: readonly number[], b: number): number[] {
  const own = members.indexOf(b);
  const from = clamp(
    own - POOL_DEFAULTS.mostSiblings / 2,
    0,
    Math.max(0, members.length - POOL_DEFAULTS.mostSiblings - 1),
  );
  return members.slice(from, from + POOL_DEFAULTS.mostSiblings + 1).filter((m) => m !== b);
}

type Spot = { midi: number; place: number };

/** How alike two bars are about a beat, 0…1: notes in common over notes in either, from the beat before to the beat after, but for
 * the pitch that is asked about. One note in common is given: the bars are said to be the same music. */
function likenessOf(
  notes: readonly PlayedNote[],
  bars: readonly PoolBar[],
): (a: number, b: number, beat: number, midi: number) => number {
  const spots = bars.map((): Spot[] => []);
  for (const n of notes) {
    const b = barAt(bars, n.onsetSec);
    if (b !== undefined) spots[b]?.push({ midi: n.midi, place: placeIn(bars[b] as PoolBar, n.onsetSec) });
  }
  const known = new Map<number, { both: Spot[]; only: Spot[] }>();
  const compare = (a: number, b: number, beat: number): { both: Spot[]; only: Spot[] } => {
    const about = (s: Spot): boolean => s.place > beat - 1.1 && s.place < beat + 1.9;
    const rest = (spots[b] as Spot[]).filter(about);
    const both: Spot[] = [];
    const only: Spot[] = [];
    for (const s of spots[a] as Spot[]) {
      if (!about(s)) continue;
      const k = rest.findIndex((t) => t.midi === s.midi && Math.abs(t.place - s.place) < 0.2);
      if (k >= 0) rest.splice(k, 1);
      (k >= 0 ? both : only).push(s);
    }
    only.push(...rest);
    return { both, only };
  };
  return (a, b, beat, midi) => {
    const [low, high] = [Math.min(a, b), Math.max(a, b)];
    const key = (low * bars.length + high) * 64 + clamp(beat, 0, 63);
    const found = known.get(key) ?? compare(low, high, beat);
    known.set(key, found);
    const others = (list: readonly Spot[]): number =>
      list.reduce((count, s) => count + (s.midi === midi ? 0 : 1), 0);
    const both = others(found.both) + 1;
    return (both / (both + others(found.only))) ** 2;
  };
}

/** A note that sounds on into an added one of the same pitch ends there. */
function endAtRestrike(notes: PlayedNote[]): PlayedNote[] {
  notes.sort((a, b) => a.onsetSec - b.onsetSec || a.midi - b.midi);
  const next = new Map<number, number>();
  const out: PlayedNote[] = [];
  for (let k = notes.length - 1; k >= 0; k--) {
    const n = notes[k] as PlayedNote;
    const limit = next.get(n.midi) ?? Number.POSITIVE_INFINITY;
    out.push(n.offsetSec > limit ? { ...n, offsetSec: Math.max(n.onsetSec + 0.03, limit) } : n);
    next.set(n.midi, n.onsetSec);
  }
  return out.reverse();
}

/** Evidence of an onset of a pitch about a moment, as a logit: of a note or candidate there, else of the evidence map. */
function heardAt(ofPitch: readonly PlayedNote[], map: EvidenceMap, midi: number, sec: number): number {
  const { nearSec, most, unheard } = POOL_DEFAULTS;
  let best: PlayedNote | undefined;
  for (const n of around(ofPitch, sec, nearSec))
    if (best === undefined || n.confidence > best.confidence) best = n;
  if (best !== undefined) return clamp(logit(best.confidence), -most, most);
  const pitchIdx = midi - map.lowestMidi;
  if (pitchIdx < 0 || pitchIdx >= map.pitchCount) return -most;
  const first = Math.max(0, Math.ceil((sec - nearSec) / map.frameSec));
  const last = Math.min(map.frameCount - 1, Math.floor((sec + nearSec) / map.frameSec));
  let peak = -128;
  for (let f = first; f <= last; f++) peak = Math.max(peak, map.onset[f * map.pitchCount + pitchIdx]!);
  return clamp(peak / LOGIT_STEPS, -most, unheard);
}

function barAt(bars: readonly PoolBar[], sec: number): number | undefined {
  // A hit on beat 1 may come a little early; it belongs to the bar it opens.
  const b = bars.findLastIndex((bar) => bar.startSec - POOL_DEFAULTS.nearSec <= sec);
  const bar = bars[b];
  return bar !== undefined && sec < bar.endSec + POOL_DEFAULTS.nearSec ? b : undefined;
}

/** Place in a bar in beats, by its own beats. */
function placeIn(bar: PoolBar, sec: number): number {
  const { beatSec } = bar;
  let k = 0;
  while (k < beatSec.length - 2 && beatSec[k + 1]! <= sec) k++;
  return k + (sec - beatSec[k]!) / (beatSec[k + 1]! - beatSec[k]!);
}

/** The inverse of placeIn. */
function timeAt(bar: PoolBar, place: number): number {
  const { beatSec } = bar;
  const k = clamp(Math.floor(place), 0, Math.max(0, beatSec.length - 2));
  return beatSec[k]! + (place - k) * (beatSec[k + 1]! - beatSec[k]!);
}
