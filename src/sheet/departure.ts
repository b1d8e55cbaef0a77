// How a bar departs from the pattern, in a teacher's words.
// In: hits of the pattern that the bar lacks, hits it adds, all hits of the pattern. Out: one line, without ";", which the text sheet parts
// its fields by. Method: first the usual endings (it breaks off with one plucked chord, the thumb walks, it rests), then fingers that
// stand in for others, then single hits; what would be a list is another figure. Wording: common practice, no published source.
import { BEAT_TICKS } from "./bar-time.js";
import { beatsText } from "./beats-text.js";
import type { PatternHit } from "./sheet.js";

const DEPARTURE_DEFAULTS = Object.freeze({
  chord: 3, // fingers together are a chord
  walk: 2, // thumb strokes make a walk
  most: 4, // single hits that one still reads
});

/** @param missing of `hits`, not played in this bar @param added played besides */
export function departureNote(
  missing: readonly PatternHit[],
  added: readonly PatternHit[],
  hits: readonly PatternHit[],
): string {
  if (missing.length === hits.length && added.length === 0) return "the pattern rests";
  const fromBeat = Math.min(...[...missing, ...added].map((h) => h.beat));
  const gone = new Set(missing);
  const played = [...hits.filter((h) => !gone.has(h)), ...added].filter((h) => h.beat >= fromBeat);
  const restGone = hits.every((h) => h.beat <= fromBeat || gone.has(h));
  if (restGone && hits.some((h) => h.beat > fromBeat)) {
    const beats = new Set(played.map((h) => h.beat));
    const chord = beats.size === 1 && played.length >= DEPARTURE_DEFAULTS.chord;
    if (chord)
      return played[0]?.beat === 1 ? "one chord" : `one chord on beat ${beatText(played[0] as PatternHit)}`;
    if (played.length === 0) return `rests from beat ${placeText(fromBeat)} on`;
  }
  const walks = added.length > 0 && played.every((h) => h.finger === "p");
  if (walks && played.length >= DEPARTURE_DEFAULTS.walk && missing.some((h) => h.finger !== "p"))
    return `the thumb walks from beat ${placeText(fromBeat)} on`;
  const { swaps, lacks, adds } = pairUp(missing, added);
  if (swaps.length + lacks.length + adds.length > DEPARTURE_DEFAULTS.most)
    return fromBeat > 1 ? `another figure from beat ${placeText(fromBeat)} on` : "another figure";
  const parts = [...swaps];
  if (lacks.length > 0) parts.push(`without ${lacks.map(hitText).join(", ")}`);
  if (adds.length > 0) parts.push(`with ${adds.map(hitText).join(", ")} besides`);
  return parts.join(", ");
}

const placeText = (beat: number): string => beatsText(Math.round(beat * BEAT_TICKS));

const beatText = (hit: PatternHit): string => placeText(hit.beat);

const hitText = (hit: PatternHit): string => `${hit.finger} on beat ${beatText(hit)}`;

/** One finger in another's place at the same moment is a finger that stands in. */
function pairUp(
  missing: readonly PatternHit[],
  added: readonly PatternHit[],
): { swaps: string[]; lacks: PatternHit[]; adds: PatternHit[] } {
  const adds = [...added];
  const lacks: PatternHit[] = [];
  const swaps: string[] = [];
  for (const hit of missing) {
    const k = adds.findIndex((a) => a.beat === hit.beat);
    if (k < 0) lacks.push(hit);
    else swaps.push(`${adds.splice(k, 1)[0]?.finger} for ${hitText(hit)}`);
  }
  return { swaps, lacks, adds };
}
