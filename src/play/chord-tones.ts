/** Notes of a chord symbol, and a voicing for plucked backing. What the chord table does not name is read by its suffix, as an accompanist would;
 * suffixes that say nothing are taken as a plain triad. */
import { mod } from "../base/numbers.js";
import { chordRow, parseChordSymbol } from "../theory/chord.js";
import { pitchClassOf } from "../theory/pitch.js";

/** Pitch classes of the chord over its root, whatever its bass; [] for "N.C.". */
export function chordTones(symbol: string): number[] {
  const parts = parseChordSymbol(symbol);
  if (!parts) return [];
  const root = pitchClassOf(parts.root) ?? 0;
  const steps = chordRow(parts.quality)?.steps ?? stepsOfSuffix(parts.quality);
  return [...new Set(steps.map((s) => mod(root + s, 12)))];
}

function stepsOfSuffix(suffix: string): number[] {
  const third = /sus2/.test(suffix) ? 2 : /sus/.test(suffix) ? 5 : /^(m(?!aj)|dim)/.test(suffix) ? 3 : 4;
  const fifth = /dim|b5/.test(suffix) ? 6 : /aug|\+|#5/.test(suffix) ? 8 : 7;
  const steps = [0, third, fifth];
  if (/maj(7|9|11|13)/i.test(suffix)) steps.push(11);
  else if (/dim7/.test(suffix)) steps.push(9);
  else if (/(^|[^d])(7|9|11|13)/.test(suffix.replace(/add\d+|6\/9|69/g, ""))) steps.push(10);
  if (/6/.test(suffix)) steps.push(9);
  if (/9|add2/.test(suffix)) steps.push(2);
  if (/add(4|11)/.test(suffix)) steps.push(5);
  return steps;
}

/** Lowest and highest note of a plucked backing chord: between the bass and the study's own upper strings. */
const LOWEST_MIDI = 52;
const HIGHEST_MIDI = 67;

/** Four notes at most, low to high, close to where the last chord lay. */
export function voicing(symbol: string, previous: readonly number[]): number[] {
  const classes = chordTones(symbol);
  if (classes.length === 0) return [];
  const centre = previous.length > 0 ? previous.reduce((s, m) => s + m, 0) / previous.length : 59;
  let best: number[] = [];
  let bestDistance = Number.POSITIVE_INFINITY;
  for (let lowest = LOWEST_MIDI; lowest <= HIGHEST_MIDI - 6; lowest++) {
    if (!classes.includes(lowest % 12)) continue;
    const notes: number[] = [];
    for (let midi = lowest; midi <= HIGHEST_MIDI + 3 && notes.length < Math.min(4, classes.length); midi++)
      if (classes.includes(midi % 12) && !notes.some((n) => n % 12 === midi % 12)) notes.push(midi);
    const distance = Math.abs(notes.reduce((s, m) => s + m, 0) / notes.length - centre);
    if (notes.length >= Math.min(3, classes.length) && distance < bestDistance) {
      best = notes;
      bestDistance = distance;
    }
  }
  return best;
}
