import type { EvidenceMap, Listening, PlayedNote } from "../../../src/notes/played-note.js";
import { makeRng } from "../takes/rng.js";

/** A sounding note: seconds, MIDI number, loudness 0…1. */
export type TrueNote = { onsetSec: number; offsetSec: number; midi: number; velocity: number };

/** How a listener errs. Logits: a plain note peaks near `hit`; softer ones lower; ghosts appear with the given chances. */
export type Ears = {
  seed?: number;
  hit?: number;
  spread?: number;
  octaveGhost?: number;
  restrikeGhost?: number;
  missed?: number;
  jitterSec?: number;
};

const FRAME_SEC = 256 / 22050;
const LOWEST = 38;
const PITCHES = 51;

/** Evidence as a listener with realistic faults would give it for these notes: quiet notes doubtful, partials of struck strings and
 * ringing pitches that seem to begin again, decays in `sounding`. Not the trained listener: it serves where no model is wanted. */
export function simulateListening(
  notes: readonly TrueNote[],
  durationSec: number,
  ears: Ears = {},
): Listening {
  const {
    hit = 4.5,
    spread = 1.5,
    octaveGhost = 0.05,
    restrikeGhost = 0.03,
    missed = 0.01,
    jitterSec = 0.006,
  } = ears;
  const rng = makeRng(`ears ${ears.seed ?? 1}`);
  const normal = (): number => Math.sqrt(-2 * Math.log(1 - rng.next())) * Math.cos(2 * Math.PI * rng.next());
  const frameCount = Math.ceil(durationSec / FRAME_SEC);
  const onset = new Float32Array(frameCount * PITCHES);
  const sounding = new Float32Array(frameCount * PITCHES);
  for (let i = 0; i < onset.length; i++) {
    onset[i] = -6.8 + 0.5 * normal();
    sounding[i] = -5 + 0.5 * normal();
  }
  const raise = (sec: number, midi: number, logit: number): void => {
    const pitchIdx = midi - LOWEST;
    if (pitchIdx < 0 || pitchIdx >= PITCHES) return;
    const centre = sec / FRAME_SEC;
    for (let k = Math.floor(centre) - 2; k <= Math.floor(centre) + 3; k++) {
      if (k < 0 || k >= frameCount) continue;
      const here = logit - 2.2 * (k - centre) ** 2;
      const cell = k * PITCHES + pitchIdx;
      onset[cell] = Math.max(onset[cell] as number, here);
    }
  };
  for (const note of notes) {
    const heardSec = note.onsetSec + jitterSec * normal();
    const lost = rng.next() < missed;
    raise(heardSec, note.midi, lost ? -4 + normal() : hit + 3 * (note.velocity - 0.6) + spread * normal());
    for (const [step, chance] of [
      [12, octaveGhost],
      [19, octaveGhost / 2],
      [24, octaveGhost / 3],
    ] as const)
      if (rng.next() < chance) raise(heardSec, note.midi + step, -1 + 2 * normal());
    for (const other of notes)
      if (other.midi !== note.midi && other.onsetSec < note.onsetSec - 0.1 && other.offsetSec > note.onsetSec)
        if (rng.next() < restrikeGhost) raise(heardSec, other.midi, -1 + 2 * normal());
    const pitchIdx = note.midi - LOWEST;
    if (pitchIdx < 0 || pitchIdx >= PITCHES) continue;
    const lastFrame = Math.min(frameCount - 1, Math.round(note.offsetSec / FRAME_SEC));
    for (let k = Math.round(heardSec / FRAME_SEC); k <= lastFrame; k++) {
      const share = (k * FRAME_SEC - note.onsetSec) / Math.max(0.1, note.offsetSec - note.onsetSec);
      const cell = k * PITCHES + pitchIdx;
      if (k >= 0) sounding[cell] = Math.max(sounding[cell] as number, 4 - 4 * share + 0.5 * normal());
    }
  }
  const quantise = (xs: Float32Array): Int8Array =>
    Int8Array.from(xs, (x) => Math.max(-127, Math.min(127, Math.round(x * 16))));
  const evidence: EvidenceMap = {
    frameSec: FRAME_SEC,
    frameCount,
    lowestMidi: LOWEST,
    pitchCount: PITCHES,
    onset: quantise(onset),
    sounding: quantise(sounding),
  };
  return { ...pick(evidence), evidence, tuningCents: 0, durationSec };
}

/** Local maxima over ±3 frames: above even odds a note, down to −3 logits a candidate. */
function pick(map: EvidenceMap): { notes: PlayedNote[]; candidates: PlayedNote[] } {
  const notes: PlayedNote[] = [];
  const candidates: PlayedNote[] = [];
  const at = (k: number, p: number): number =>
    k < 0 || k >= map.frameCount ? -128 : (map.onset[k * map.pitchCount + p] as number);
  for (let k = 0; k < map.frameCount; k++)
    for (let p = 0; p < map.pitchCount; p++) {
      const step = at(k, p);
      if (step < -48) continue;
      if (![1, 2, 3].every((d) => step > at(k - d, p) && step >= at(k + d, p))) continue;
      const confidence = 1 / (1 + Math.exp(-step / 16));
      const note = {
        onsetSec: k * map.frameSec,
        offsetSec: k * map.frameSec + 0.5,
        midi: map.lowestMidi + p,
        confidence,
        velocity: 0.6,
      };
      (step > 4 ? notes : candidates).push(note);
    }
  return { notes, candidates };
}
