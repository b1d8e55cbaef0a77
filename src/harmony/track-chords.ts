/** Chords of a recording over time, with no beat known. In: chroma. Out: spans with root, quality and bass.
 * Method: every frame is compared with what each chord would show (Gaussian about a template, bass apart), and the likeliest path
 * through the chords is found (Viterbi, after Sheh & Ellis 2003, ISMIR); the bass is named afterwards over each span.
 * Cannot: tell chords of the same notes apart but by their bass; changes faster than about a third of a second. */
import { mod } from "../base/numbers.js";
import { chordRow, NO_CHORD } from "../theory/chord.js";
import { pitchClassName } from "../theory/pitch.js";
import type { Chroma } from "./chroma.js";
import { meanChroma } from "./chroma.js";
import type { ChordSpan } from "./harmony.js";

const TRACK_CHORD_DEFAULTS = {
  spread: 0.4, // deviation of a chroma entry from its template
  bassSpread: 0.57, // the same of the bass, which moves through passing notes
  changeCost: 7, // log odds against a change of chord between two frames
  outside: 0.1, // chroma that notes outside a chord show, from overtones and reverberation
  silence: 0.02, // level under which nothing is named
  slashBass: 0.55, // mean bass chroma from which a note other than the root is named after the slash
  slashLead: 0.13, // and by how much it must lead the root's
} as const;

/** Height of chord notes by place: root, third, fifth, seventh. Fitted for chord recall on composed tracks of even seeds under 64. */
const HEIGHTS = [0.42, 0.3, 0.5, 0.23] as const;
// Cost in log odds of the quality, and the height of its third where it is another: the major third of a seventh chord hides under the fifth
// overtone of a low bass, a minor third does not. Fitted on composed tracks of even seeds under 64, thirds on seeds 0…63 and 1000…1127.
const QUALITIES: readonly { quality: string; cost: number; third?: number }[] = [
  { quality: "", cost: 0 },
  { quality: "m", cost: 0 },
  { quality: "7", cost: 0.8, third: 0.2 },
  { quality: "m7", cost: 0.5, third: 0.36 },
  { quality: "maj7", cost: 0.6 },
  { quality: "dim", cost: 1.3 },
  { quality: "m7b5", cost: 0.64 },
  { quality: "sus4", cost: 4.3 },
  { quality: "sus2", cost: 1.6 },
  { quality: "aug", cost: 2.6 },
];

type State = { rootPc: number; quality: string; cost: number; template: number[] };

const STATES: readonly State[] = QUALITIES.flatMap(({ quality, cost, third }) =>
  Array.from({ length: 12 }, (_, rootPc) => {
    const template = new Array<number>(12).fill(TRACK_CHORD_DEFAULTS.outside);
    (chordRow(quality)?.steps ?? []).forEach((step, k) => {
      template[mod(rootPc + step, 12)] = (k === 1 ? third : undefined) ?? HEIGHTS[k] ?? 0.4;
    });
    return { rootPc, quality, cost, template };
  }),
);

/** Chords of the recording; names are not yet spelled for a key. Bars are 0: no beat is known. */
export function trackChords(chroma: Chroma): ChordSpan[] {
  const path = bestPath(chroma);
  const spans: ChordSpan[] = [];
  let from = 0;
  for (let k = 1; k <= path.length; k++) {
    if (k < path.length && path[k] === path[from]) continue;
    // Frame k stands for the time from half a frame before its centre.
    const startSec = Math.max(0, (from - 0.5) * chroma.frameSec);
    const endSec = (k - 0.5) * chroma.frameSec;
    spans.push(nameSpan(chroma, path[from] ?? -1, startSec, endSec));
    from = k;
  }
  return spans;
}

function nameSpan(chroma: Chroma, state: number, startSec: number, endSec: number): ChordSpan {
  const found = STATES[state];
  const empty = { startSec, endSec, bar: 0, beat: 1, alternatives: [] };
  if (!found) return { ...empty, symbol: NO_CHORD, root: "", bass: "", confidence: 0.5 };
  const bass = meanChroma(chroma, "bass", startSec, endSec);
  const all = meanChroma(chroma, "all", startSec, endSec);
  const rootBass = bass[found.rootPc] ?? 0;
  let bassPc = found.rootPc;
  bass.forEach((x, pc) => {
    if (
      x > TRACK_CHORD_DEFAULTS.slashBass &&
      x > rootBass + TRACK_CHORD_DEFAULTS.slashLead &&
      x > (bass[bassPc] ?? 0)
    )
      bassPc = pc;
  });
  const root = pitchClassName(found.rootPc);
  const bassName = pitchClassName(bassPc);
  const ranked = STATES.map((s, idx) => [idx, distance(all, s) + s.cost] as const).sort(
    (a, b) => a[1] - b[1] || a[0] - b[0],
  );
  const own = ranked.find(([idx]) => idx === state)?.[1] ?? 0;
  const odds = ranked.reduce((sum, [, d]) => sum + Math.exp(Math.min(20, own - d)), 0);
  const alternatives = ranked
    .filter(([idx]) => idx !== state)
    .slice(0, 2)
    .map(([idx]) => `${pitchClassName(STATES[idx]?.rootPc ?? 0)}${STATES[idx]?.quality ?? ""}`);
  const symbol = root + found.quality + (bassPc === found.rootPc ? "" : `/${bassName}`);
  return { ...empty, symbol, root, bass: bassName, confidence: Math.min(0.99, 1 / odds), alternatives };
}

function distance(x: ArrayLike<number>, state: State): number {
  let sum = 0;
  for (let pc = 0; pc < 12; pc++) {
    const off = (x[pc] ?? 0) - (state.template[pc] ?? 0);
    sum += off * off;
  }
  return sum / (2 * TRACK_CHORD_DEFAULTS.spread ** 2);
}

/** State of each frame; −1 where it is silent. */
function bestPath(chroma: Chroma): number[] {
  const { changeCost, silence, bassSpread } = TRACK_CHORD_DEFAULTS;
  const count = STATES.length + 1; // the last is "no chord"
  let cost = new Float64Array(count);
  const from = new Int16Array(chroma.frameCount * count);
  const frame = new Float64Array(12);
  for (let k = 0; k < chroma.frameCount; k++) {
    let bestIdx = 0;
    for (let s = 1; s < count; s++) if ((cost[s] ?? 0) < (cost[bestIdx] ?? 0)) bestIdx = s;
    const moved = (cost[bestIdx] ?? 0) + changeCost;
    const next = new Float64Array(count);
    for (let pc = 0; pc < 12; pc++) frame[pc] = chroma.all[k * 12 + pc] ?? 0;
    const isSilent = (chroma.level[k] ?? 0) < silence;
    for (let s = 0; s < count; s++) {
      const stay = cost[s] ?? 0;
      const back = stay <= moved ? s : bestIdx;
      from[k * count + s] = back;
      const state = STATES[s];
      let here: number;
      if (!state) here = isSilent ? 0 : 9;
      else if (isSilent) here = 4;
      else {
        const offBass = 1 - (chroma.bass[k * 12 + state.rootPc] ?? 0);
        here = distance(frame, state) + 0.15 * state.cost + (offBass * offBass) / (2 * bassSpread ** 2);
      }
      next[s] = Math.min(stay, moved) + here;
    }
    cost = next;
  }
  let at = 0;
  for (let s = 1; s < count; s++) if ((cost[s] ?? 0) < (cost[at] ?? 0)) at = s;
  const path = new Array<number>(chroma.frameCount);
  for (let k = chroma.frameCount - 1; k >= 0; k--) {
    path[k] = at === STATES.length ? -1 : at;
    at = from[k * count + at] ?? 0;
  }
  return path;
}
