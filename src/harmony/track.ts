/** Key or mode of any recording. In: a Take, maybe a general key finder's vote. Out: a TrackKey, all that `key` says.
 * Method: semitone strengths (src/dsp/partials.ts), chroma, chords by Viterbi, stretches in one scale, then for each stretch the same
 * mode model as for takes. The longest stretch is the key of the whole. Cannot: tell beats or bars, or name keys of unpitched sound. */
import type { Take } from "../audio/take.js";
import { PulgarError } from "../base/errors.js";
import type { OnProgress } from "../base/progress.js";
import { mapSemitones, type SemitoneMap } from "../dsp/partials.js";
import { pitchClassOf } from "../theory/pitch.js";
import { makeChroma } from "./chroma.js";
import type { ChordSpan, KeySection, ModeGuess } from "./harmony.js";
import type { KeyVote } from "./mode-model.js";
import { trackChords } from "./track-chords.js";
import { keySections } from "./track-sections.js";

/** A general key finder's opinion of a recording, as essentia.js gives it: plain major or minor.
 * @property strength 0…1 */
export type EssentiaVote = { key: string; scale: "major" | "minor"; strength: number; tuningHz?: number };

/** Everything that is said of a recording. chords have times and no bars (bar 0).
 * @property tuningCents how far the recording is from A4 = 440 Hz, −50…50, plus is sharp */
export type TrackKey = ModeGuess & {
  durationSec: number;
  tuningCents: number;
  chords: ChordSpan[];
  sections: KeySection[];
  vote?: EssentiaVote;
};

type KeyDeps = { vote?: EssentiaVote; onProgress?: OnProgress };

const TRACK_DEFAULTS = {
  shortestSec: 3, // less holds no key
} as const;

/** Finds key, mode, chords and tuning of a recording.
 * @throws PulgarError "too-short" under 3 s, "silent" when no pitch is heard */
export function findTrackKey(take: Take, deps: KeyDeps = {}): TrackKey {
  const durationSec = take.samples.length / take.sampleRateHz;
  if (durationSec < TRACK_DEFAULTS.shortestSec)
    throw new PulgarError(
      "too-short",
      `recording: ${durationSec.toFixed(1)} s; need ${TRACK_DEFAULTS.shortestSec} s or more`,
      "Give a longer stretch: a key needs a few chords.",
    );
  const tell = deps.onProgress ?? (() => undefined);
  const map = mapSemitones(take.samples, take.sampleRateHz, (share) => tell("listening", share));
  return keyOfMap(map, durationSec, deps);
}

/** Key, mode and chords of what sounds at each semitone.
 * @throws PulgarError "silent" when no pitch is heard */
export function keyOfMap(map: SemitoneMap, durationSec: number, deps: KeyDeps = {}): TrackKey {
  const tell = deps.onProgress ?? (() => undefined);
  tell("chords", 0);
  const chroma = makeChroma(map);
  const named = trackChords(chroma);
  if (!named.some((c) => c.root !== ""))
    throw new PulgarError(
      "silent",
      "recording: no pitch is heard",
      "Is this the right file? Drums alone have no key.",
    );
  tell("key", 0);
  const { main, sections } = keySections(chroma, named, durationSec, deps.vote && keyVote(deps.vote));
  tell("done", 1);
  return {
    ...main.guess,
    durationSec,
    tuningCents: map.tuningCents,
    chords: chordChart(sections),
    sections: sections.map(({ stretch, guess }) => ({
      ...stretch,
      tonic: guess.tonic,
      mode: guess.mode,
      confidence: guess.confidence,
      improvise: guess.improvise,
    })),
    ...(deps.vote ? { vote: deps.vote } : {}),
  };
}

/** Chords of all stretches; one that spans two is spelled by the first. */
function chordChart(guesses: readonly { chords: ChordSpan[] }[]): ChordSpan[] {
  const chart: ChordSpan[] = [];
  for (const { chords } of guesses)
    for (const chord of chords) if (chord.startSec >= (chart.at(-1)?.endSec ?? 0) - 0.01) chart.push(chord);
  return chart;
}

function keyVote(vote: EssentiaVote): KeyVote | undefined {
  const tonicPc = pitchClassOf(vote.key);
  return tonicPc === undefined
    ? undefined
    : { tonicPc, isMinor: vote.scale === "minor", strength: vote.strength };
}
