// A listener by chance: what a trained one would say of a performance, with misses, false octaves, re-struck notes and
// count-ins taken for notes. The evidence map holds a peak for every true onset, so pooling has something to add up.
import { type Listening, LOGIT_STEPS, type PlayedNote } from "../../src/notes/played-note.js";
import type { Performance } from "../helpers/takes/perform.js";
import { makeRng } from "../helpers/takes/rng.js";

/** @property misses share of notes missed @property octaves share that also sound as a false octave @property restruck share struck twice
 * @property doubt deviation of the logits: more makes more notes doubtful */
export type SimulateOptions = {
  seed?: number;
  misses?: number;
  octaves?: number;
  restruck?: number;
  hearCountIn?: boolean;
};

const FRAME_SEC = 0.0116;
const LOWEST = 36;
const PITCHES = 53;

export function simulateListening(performance: Performance, options: SimulateOptions = {}): Listening {
  const { seed = 1, misses = 0, octaves = 0, restruck = 0, hearCountIn = true } = options;
  const rng = makeRng(`listen ${performance.study.name} ${seed}`);
  const frameCount = Math.ceil(performance.durationSec / FRAME_SEC) + 10;
  const onset = new Int8Array(frameCount * PITCHES).fill(-5 * LOGIT_STEPS);
  const sounding = new Int8Array(frameCount * PITCHES).fill(-5 * LOGIT_STEPS);
  const notes: PlayedNote[] = [];
  const candidates: PlayedNote[] = [];
  const hear = (midi: number, onsetSec: number, offsetSec: number, velocity: number, logit: number): void => {
    const frame = Math.round(onsetSec / FRAME_SEC);
    const pitchIdx = midi - LOWEST;
    if (pitchIdx < 0 || pitchIdx >= PITCHES || frame < 1 || frame >= frameCount - 1) return;
    for (const [step, less] of [
      [-1, 2],
      [0, 0],
      [1, 2],
    ] as const) {
      const at = (frame + step) * PITCHES + pitchIdx;
      const value = Math.round(Math.max(-7.9, Math.min(7.9, logit - less)) * LOGIT_STEPS);
      onset[at] = Math.max(onset[at] as number, value);
    }
    for (let f = frame; f < Math.min(frameCount, Math.round(offsetSec / FRAME_SEC)); f++)
      sounding[f * PITCHES + pitchIdx] = 2 * LOGIT_STEPS;
    const confidence = 1 / (1 + Math.exp(-logit));
    const note: PlayedNote = { onsetSec, offsetSec, midi, confidence, velocity };
    if (confidence >= 0.5) notes.push(note);
    else if (confidence >= 0.08) candidates.push(note);
  };
  for (const n of performance.notes) {
    const missed = rng.chance(misses);
    hear(n.midi, n.onsetSec, n.offsetSec, n.velocity, missed ? -1.2 + 0.6 * rng.gauss() : 3.5 + rng.gauss());
    if (rng.chance(octaves)) hear(n.midi + 12, n.onsetSec, n.offsetSec, 0.4, 0.6 + 0.6 * rng.gauss());
    if (rng.chance(restruck)) hear(n.midi, n.onsetSec + 0.09, n.offsetSec, 0.3, 0.5 + 0.5 * rng.gauss());
  }
  if (hearCountIn)
    for (const c of performance.countIn) {
      if (c.kind === "clicks") continue;
      const midi = c.kind === "taps" ? 45 : c.kind === "muted" ? 50 : 46 - rng.int(3);
      if (rng.chance(0.6)) hear(midi, c.atSec + 0.01, c.atSec + 0.12, 0.5, 0.4 + rng.gauss());
    }
  const byTime = (a: PlayedNote, b: PlayedNote): number => a.onsetSec - b.onsetSec || a.midi - b.midi;
  return {
    notes: notes.sort(byTime),
    candidates: candidates.sort(byTime),
    evidence: { frameSec: FRAME_SEC, frameCount, lowestMidi: LOWEST, pitchCount: PITCHES, onset, sounding },
    tuningCents: 0,
    durationSec: performance.durationSec,
  };
}
