/** Keys of a recording, stretch by stretch. In: chroma and chords. Out: stretches with a guess each, and the longest as the main one.
 * Method: the mode model of takes over each stretch of src/harmony/sections.ts; the main stretch's mode, and its chords moved to another
 * home, are expected of the others; stretches that are of one key are joined and weighed again. Cannot: tell a key from one chord. */
import { mod } from "../base/numbers.js";
import { chordPitchClasses, triadOf } from "../theory/chord.js";
import { pitchClassOf } from "../theory/pitch.js";
import { isMinorMode, modeMask } from "../theory/scale.js";
import type { Chroma } from "./chroma.js";
import { homeEvidence } from "./evidence.js";
import type { ChordSpan, ModeGuess } from "./harmony.js";
import { guessMode } from "./mode.js";
import type { KeyHints, KeyVote } from "./mode-model.js";
import { keyStretches, type Stretch } from "./sections.js";
import { spellHarmony } from "./spell.js";
import { presenceFeatures, trackPresence } from "./track-evidence.js";

const TRACK_SECTION_DEFAULTS = {
  edgeSec: 0.2, // a chord that reaches no further into a stretch is not of it
  oneChordSec: 12, // a last chord rings so long; a vamp on one chord goes on
} as const;

/** @property chords those of the stretch, spelled for its key */
export type Section = { stretch: Stretch; guess: ModeGuess; chords: ChordSpan[] };

/** Sections in order. @param named chords of the whole recording */
export function keySections(
  chroma: Chroma,
  named: readonly ChordSpan[],
  durationSec: number,
  vote: KeyVote | undefined,
): { main: Section; sections: Section[] } {
  let stretches = keyStretches(
    chroma,
    durationSec,
    named.map((c) => c.startSec),
  );
  for (;;) {
    const longest = stretches.reduce((best, s) =>
      s.endSec - s.startSec > best.endSec - best.startSec ? s : best,
    );
    // The vote is of the whole recording: with several keys it says nothing of one.
    const main = guessStretch(chroma, named, longest, stretches.length === 1 && vote ? { vote } : {});
    const sections = stretches.map((s) => {
      if (s === longest) return main;
      const moved = movedTo(main, chordsWithin(named, s.startSec, s.endSec));
      return guessStretch(chroma, named, s, { elsewhere: { mode: main.guess.mode, moved } });
    });
    const same = sections.findIndex((s, k) => {
      const before = sections[k - 1];
      return before !== undefined && isOneKey(before, s);
    });
    if (same < 0) return { main, sections };
    stretches = stretches.flatMap((s, k) =>
      k === same ? [] : [k === same - 1 ? { ...s, endSec: stretches[same]?.endSec ?? s.endSec } : s],
    );
  }
}

function guessStretch(
  chroma: Chroma,
  named: readonly ChordSpan[],
  stretch: Stretch,
  hints: KeyHints,
): Section {
  const voiced = named.filter((c) => c.root !== "");
  const from = Math.max(voiced[0]?.startSec ?? 0, stretch.startSec);
  const to = Math.min(voiced.at(-1)?.endSec ?? stretch.endSec, stretch.endSec);
  const inside = chordsWithin(named, from, to);
  const features = presenceFeatures(chroma, named, from, to);
  const evidence = homeEvidence(
    inside,
    trackPresence(features),
    features.map((f) => f.whole + f.atChord),
  );
  const guess = guessMode(evidence, inside, hints);
  return { stretch, guess, chords: spellHarmony(inside, guess) };
}

function chordsWithin(named: readonly ChordSpan[], fromSec: number, toSec: number): ChordSpan[] {
  const { edgeSec } = TRACK_SECTION_DEFAULTS;
  return named.filter((c) => c.endSec > fromSec + edgeSec && c.startSec < toSec - edgeSec);
}

/** A minor key that raises its seventh for a while is still that key; and one chord at the edge of a key makes no key of its own. */
function isOneKey(a: Section, b: Section): boolean {
  if (a.guess.tonic === b.guess.tonic && isMinorMode(a.guess.mode) === isMinorMode(b.guess.mode)) return true;
  return isOneChordBeside(a, b) || isOneChordBeside(b, a);
}

/** Is `part` one short chord, or one chord that `whole` holds? */
function isOneChordBeside(whole: Section, part: Section): boolean {
  const chords = part.chords.filter((c) => c.root !== "");
  if (new Set(chords.map((c) => c.root)).size > 1) return false;
  const mask = modeMask(pitchClassOf(whole.guess.tonic) ?? 0, whole.guess.mode);
  return (
    part.stretch.endSec - part.stretch.startSec < TRACK_SECTION_DEFAULTS.oneChordSec ||
    chords.some((c) => chordPitchClasses(c.symbol).every((pc) => mask[pc]))
  );
}

/** How far chords are those of the main section when its home is moved to each pitch class: shares of time, 0…1, shape (12). */
function movedTo(main: Section, chords: readonly ChordSpan[]): number[] {
  const shares = (list: readonly ChordSpan[]): Map<string, number> => {
    const sums = new Map<string, number>();
    const total = list.reduce((sum, c) => sum + (c.root === "" ? 0 : c.endSec - c.startSec), 0);
    for (const c of list) {
      const triad = triadOf(c.symbol);
      if (!triad || c.root === "") continue;
      const key = `${triad.rootPc} ${triad.family}`;
      sums.set(key, (sums.get(key) ?? 0) + (c.endSec - c.startSec) / total);
    }
    return sums;
  };
  const home = pitchClassOf(main.guess.tonic) ?? 0;
  const own = shares(main.chords);
  const here = shares(chords);
  return Array.from({ length: 12 }, (_, pc) => {
    let both = 0;
    for (const [key, share] of own) {
      const [root, family] = key.split(" ");
      both += Math.min(share, here.get(`${mod(Number(root) - home + pc, 12)} ${family}`) ?? 0);
    }
    return both;
  });
}
