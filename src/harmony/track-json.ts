import { roundTo } from "../base/numbers.js";
import type { TrackKey } from "./track.js";

/** The JSON document of `key --json`; field names are an interface. Times in seconds to the millisecond, probabilities to 4 digits. */
export function trackKeyToJson(found: TrackKey): Record<string, unknown> {
  return {
    format: "pulgar.key",
    version: 1,
    durationSec: roundTo(found.durationSec, 3),
    tonic: found.tonic,
    mode: found.mode,
    confidence: roundTo(found.confidence, 4),
    candidates: found.candidates.map((c) => ({ ...c, probability: roundTo(c.probability, 4) })),
    undecided: found.undecided,
    evidence: found.evidence,
    parentScale: found.parentScale,
    improvise: found.improvise,
    ...(found.usage ? { usage: found.usage } : {}),
    tuningCents: found.tuningCents,
    chords: found.chords.map(({ startSec, endSec, symbol, root, bass, confidence, alternatives }) => ({
      startSec: roundTo(startSec, 3),
      endSec: roundTo(endSec, 3),
      symbol,
      root,
      bass,
      confidence: roundTo(confidence, 4),
      alternatives,
    })),
    sections: found.sections.map((s) => ({
      ...s,
      startSec: roundTo(s.startSec, 3),
      endSec: roundTo(s.endSec, 3),
      confidence: roundTo(s.confidence, 4),
    })),
  };
}
