/** Pitch classes over time: chroma of everything, and of the bass. In: semitone strengths of src/dsp/partials.ts. Out: twelve numbers a frame.
 * Method: sums over octaves; the bass looks for the lowest strong note. Each frame is scaled to a loudest of 1 in the neighbourhood. */
import type { SemitoneMap } from "../dsp/partials.js";

/** @property all shape (frames, 12), 0…1 about @property mid the strongest note of each pitch class where chords and tunes lie, over the
 * same loudest: overtones seldom reach down there; shape (frames, 12) @property bass shape (frames, 12), 0…1 @property level shape (frames), 0…1 of the loudest */
export type Chroma = {
  frameSec: number;
  frameCount: number;
  all: Float64Array;
  mid: Float64Array;
  bass: Float64Array;
  level: Float64Array;
};

const CHROMA_DEFAULTS = {
  bassTopMidi: 52, // E3: basses lie under it, chords mostly over it
  bassFadeMidi: 59, // nothing over B3 counts as bass
  trebleFromMidi: 36,
  trebleFadeMidi: 80,
  midFromMidi: 40, // E2
  midToMidi: 74, // D5: chords and most tunes lie under it, their overtones over it
} as const;

/** Chroma of a semitone map. */
export function makeChroma(map: SemitoneMap): Chroma {
  const { frameCount, pitchCount, lowestMidi, strength, frameSec } = map;
  const all = new Float64Array(frameCount * 12);
  const mid = new Float64Array(frameCount * 12);
  const bass = new Float64Array(frameCount * 12);
  const level = new Float64Array(frameCount);
  const o = CHROMA_DEFAULTS;
  for (let k = 0; k < frameCount; k++) {
    for (let p = 0; p < pitchCount; p++) {
      const x = strength[k * pitchCount + p] ?? 0;
      if (x <= 0) continue;
      const midi = lowestMidi + p;
      const slot = k * 12 + (midi % 12);
      const high = midi <= o.trebleFadeMidi ? 1 : Math.max(0, 1 - (midi - o.trebleFadeMidi) / 12);
      const low = midi >= o.trebleFromMidi ? 1 : 0.5;
      all[slot] = (all[slot] ?? 0) + x * high * low;
      if (midi >= o.midFromMidi && midi <= o.midToMidi) mid[slot] = Math.max(mid[slot] ?? 0, x);
      const deep =
        midi <= o.bassTopMidi
          ? 1
          : Math.max(0, 1 - (midi - o.bassTopMidi) / (o.bassFadeMidi - o.bassTopMidi));
      const depth = deep * (1 + Math.max(0, 45 - midi) / 12);
      bass[slot] = (bass[slot] ?? 0) + x * depth;
      level[k] = (level[k] ?? 0) + x;
    }
  }
  let loudest = 0;
  for (const x of level) if (x > loudest) loudest = x;
  if (loudest > 0) for (let k = 0; k < frameCount; k++) level[k] = (level[k] ?? 0) / loudest;
  scaleFrames(mid, all, frameCount);
  scaleFrames(all, all, frameCount);
  scaleFrames(bass, bass, frameCount);
  return { frameSec, frameCount, all, mid, bass, level };
}

/** Each frame of `x` over the largest entry of the same frame of `by`; silent frames stay zero. */
function scaleFrames(x: Float64Array, by: Float64Array, frameCount: number): void {
  for (let k = 0; k < frameCount; k++) {
    let top = 0;
    for (let pc = 0; pc < 12; pc++) top = Math.max(top, by[k * 12 + pc] ?? 0);
    if (top > 0) for (let pc = 0; pc < 12; pc++) x[k * 12 + pc] = (x[k * 12 + pc] ?? 0) / top;
  }
}

/** Mean chroma of frames from `fromSec` to `toSec`, shape (12), weighted by level. */
export function meanChroma(
  chroma: Chroma,
  which: "all" | "mid" | "bass",
  fromSec: number,
  toSec: number,
): number[] {
  const first = Math.max(0, Math.round(fromSec / chroma.frameSec));
  const last = Math.min(chroma.frameCount, Math.max(first + 1, Math.round(toSec / chroma.frameSec)));
  const sum = new Array<number>(12).fill(0);
  let weight = 0;
  for (let k = first; k < last; k++) {
    const w = Math.sqrt(chroma.level[k] ?? 0);
    weight += w;
    for (let pc = 0; pc < 12; pc++) sum[pc] = (sum[pc] ?? 0) + w * (chroma[which][k * 12 + pc] ?? 0);
  }
  return weight > 0 ? sum.map((x) => x / weight) : sum;
}
