import type { ListenerCard } from "../../src/notes/card.js";
import { FEATURES, FRAME_LEN } from "../../src/notes/features.js";

/** Calibration by hand: confidence is the sigmoid of the peak's logit, whatever stands around it. */
export const PEAK_ALONE: ListenerCard["calibration"] = {
  one: 0,
  onset: 1,
  octaveBelow: 0,
  octaveAbove: 0,
  octaveRings: 0,
  lowerBegins: 0,
  loudness: 0,
  ringing: 0,
  ringingOnset: 0,
  stays: 0,
  lingers: 0,
};

/** A card for evidence by hand, of three pitches from `lowestMidi` up. */
export const cardByHand = (
  own: Pick<ListenerCard, "lowestMidi" | "contextFrames" | "strings">,
): ListenerCard => ({
  name: "by hand",
  file: "none",
  sha256: "none",
  sampleRateHz: FEATURES.sampleRateHz,
  hopLen: FEATURES.hopLen,
  frameLen: FRAME_LEN,
  pitchCount: 3,
  pickConfidence: 0.5,
  offLogit: 0,
  calibration: PEAK_ALONE,
  ...own,
});
