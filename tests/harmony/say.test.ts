import { expect, test } from "vitest";
import type { ChordSpan, KeySection } from "../../src/harmony/harmony.js";
import { sayTrack } from "../../src/harmony/say.js";
import type { TrackKey } from "../../src/harmony/track.js";

const chart = (symbols: string): ChordSpan[] =>
  symbols.split(" ").map((symbol, k) => {
    const root = symbol.replace(/(m|7)*$/, "");
    const place = { startSec: 2 * k, endSec: 2 * k + 2, bar: 0, beat: 1 };
    return { ...place, symbol, root, bass: root, confidence: 0.9, alternatives: [] };
  });

const section = (tonic: string, startSec: number, endSec: number): KeySection => ({
  startSec,
  endSec,
  tonic,
  mode: "dorian",
  confidence: 0.95,
  improvise: [`${tonic} dorian`],
});

const track = (change: Partial<TrackKey>): TrackKey => ({
  tonic: "E",
  mode: "dorian",
  confidence: 0.95,
  candidates: [{ tonic: "E", mode: "dorian", probability: 0.95 }],
  undecided: [],
  evidence: [],
  parentScale: "D major",
  improvise: ["E dorian"],
  durationSec: 100,
  tuningCents: 0,
  chords: [],
  sections: [section("E", 0, 100)],
  ...change,
});

// Sentences by hand.
for (const [title, change, said, unsaid] of [
  ["one key is said first", {}, /^This is clearly E dorian\.\n/, /key changes/],
  [
    "a second key is said first, with its time and its scale",
    { sections: [section("E", 0, 65), section("G", 65, 100)] },
    /^The key changes: E dorian at first, G dorian from 1:05\.\nThe longest part is clearly E dorian\.\n(.*\n)*From 1:05, to improvise: G dorian\.\n/,
    /^This is/m,
  ],
  [
    "a loop is said, each chord by the name it has longest",
    { chords: chart("Em A Em A7 Em A7 Em A7") },
    /^The chords go round and round: Em, A7\.$/m,
    /nothing/,
  ],
  ["two rounds are no loop", { chords: chart("Em A Em A") }, /^Chords:$/m, /round and round/],
  [
    "a form without a round is no loop",
    { chords: chart("Em A D G Em C D A G Em B C") },
    /^Chords:$/m,
    /round and round/,
  ],
  [
    "the five notes that are used are named",
    { usage: "pentatonic", improvise: ["E minor pentatonic", "E dorian"] },
    /those of E minor pentatonic\./,
    /a pentatonic/,
  ],
  ["far off tuning is said in cents", { tuningCents: -31.4 }, /31 cents flat of A 440/, /in tune with/],
] as const satisfies readonly (readonly [string, Partial<TrackKey>, RegExp, RegExp])[])
  test(`harmony say: ${title} (by hand)`, () => {
    const text = sayTrack(track(change));
    expect(text).toMatch(said);
    expect(text).not.toMatch(unsaid);
  });
