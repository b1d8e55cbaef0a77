import type { Thinkable } from "./thinkable.js";

/** A note as heard: nothing is known yet of bars, strings or fingers.
 * Times are seconds from the start of the recording; `midi` is sounding pitch (A4 = 69). */
export type PlayedNote = {
  onsetSec: number;
  offsetSec: number;
  midi: number;
  /** Calibrated probability that the note was played: of those said with 0.8, about 80 % were. */
  confidence: number;
  /** Loudness within the take, 0…1 (1 = the loudest note). */
  velocity: number;
  /** Probability that each string sounds it by its timbre, strings 1…6 in order, sum 1; undefined when the sound does not tell (the largest is under the card's `strings.claim`). */
  stringShares?: readonly number[];
};

/** The listener's evidence over the whole take, kept so that later questions can be asked of the recording.
 * Logits are quantised: `logit = value / LOGIT_STEPS`. Shape (frames, pitches), row-major: `frame * pitchCount + pitchIdx`. */
export type EvidenceMap = {
  frameSec: number; // seconds from one frame to the next; frame k is centred on k·frameSec
  frameCount: number;
  lowestMidi: number;
  pitchCount: number;
  onset: Int8Array; // a note of this pitch begins at this frame
  sounding: Int8Array; // a note of this pitch sounds in this frame
};

/** Quantisation of EvidenceMap: logits −7.9…7.9 in steps of 1/16. */
export const LOGIT_STEPS = 16;

/** All that listening says of a take.
 * @property notes picked notes, by onset then pitch
 * @property candidates doubtful onsets that were not picked (confidence under the picking threshold), same order: food for pooling
 * @property tuningCents how far the guitar is from A4 = 440 Hz, −50…50, plus is sharp */
export type Listening = {
  notes: PlayedNote[];
  candidates: PlayedNote[];
  evidence: EvidenceMap;
  tuningCents: number;
  durationSec: number;
};

/** Logits, shape (frames, pitches); strings shape (frames, pitches, 6), for the same frames. */
export type NetOut = { onset: Float32Array; sounding: Float32Array; strings?: Float32Array };

/** A stretch of a take to be heard, cut so wide that its frames are those of the whole take.
 * @property samples at the listener's rate, a copy that may be handed over to a thread @property centreIdx sample that frame 0 is centred on; frames follow every 256 samples
 * @property frameCount frames that the network looks at; those to be told are `ownFrom`…`ownFrom + ownCount − 1`
 * @property gain brings the whole take to the listener's level @property tuningCents of the whole take */
export type SoundBlock = {
  samples: Float32Array<ArrayBuffer>;
  centreIdx: number;
  frameCount: number;
  ownFrom: number;
  ownCount: number;
  gain: number;
  tuningCents: number;
};

/** What a stretch says, over its own frames: quantised logits as in EvidenceMap, and what else is kept where an onset is thinkable. */
export type BlockHeard = { onset: Int8Array; sounding: Int8Array; thinkable: Thinkable };

/** The listener at work on one stretch, handed in by whoever owns a runtime; `makeEars` makes it of a bare network. Asked again before it
 * has answered: stretches may be worked on side by side. */
export type RunNet = (sound: SoundBlock) => Promise<BlockHeard>;
