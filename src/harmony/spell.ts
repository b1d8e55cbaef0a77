/** Chord names spelled for the key that was found. In: chords and the mode. Out: the same chords with names that fit the signature. */
import { chordSymbol, parseChordSymbol } from "../theory/chord.js";
import { pitchClassOf } from "../theory/pitch.js";
import { spellInKey } from "../theory/scale.js";
import type { ChordSpan, ModeGuess } from "./harmony.js";

/** Respells symbol, root, bass and alternatives: in F aeolian the chord A# becomes Bb. Symbols that are no chords stay. */
export function spellHarmony(
  chords: readonly ChordSpan[],
  mode: Pick<ModeGuess, "tonic" | "mode">,
): ChordSpan[] {
  const respell = (symbol: string): string => {
    const parts = parseChordSymbol(symbol);
    if (!parts) return symbol;
    return chordSymbol({ ...parts, root: inKey(parts.root, mode), bass: inKey(parts.bass, mode) });
  };
  return chords.map((chord) => ({
    ...chord,
    symbol: respell(chord.symbol),
    root: inKey(chord.root, mode),
    bass: inKey(chord.bass, mode),
    alternatives: chord.alternatives.map(respell),
  }));
}

function inKey(name: string, mode: Pick<ModeGuess, "tonic" | "mode">): string {
  const pc = pitchClassOf(name);
  return pc === undefined ? name : spellInKey(pc, mode.tonic, mode.mode);
}
