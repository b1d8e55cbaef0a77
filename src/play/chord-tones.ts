/** Notes of a chord symbol, and a voicing for plucked backing. Only what accompaniment needs: suffixes it does not know are taken as a plain triad. */

const LETTERS: Record<string, number> = { C: 0, D: 2, E: 4, F: 5, G: 7, A: 9, B: 11 };

/** Pitch class 0…11 of a spelled note at the head of `name`; undefined for none. */
export function pitchClassAt(name: string): number | undefined {
  const match = /^([A-G])([#b♯♭]*)/.exec(name);
  const base = match?.[1] === undefined ? undefined : LETTERS[match[1]];
  if (base === undefined) return undefined;
  let pc = base;
  for (const sign of match?.[2] ?? "") pc += sign === "#" || sign === "♯" ? 1 : -1;
  return ((pc % 12) + 12) % 12;
}

/** Pitch classes of the chord over its root, root first; [] for "N.C.". */
export function chordPitchClasses(symbol: string): number[] {
  const root = pitchClassAt(symbol);
  if (root === undefined) return [];
  const suffix = symbol.replace(/^[A-G][#b♯♭]*/, "").replace(/\/[A-G][#b♯♭]*$/, "");
  const steps = [0];
  if (/^5/.test(suffix)) steps.push(7);
  else {
    const third = /sus2/.test(suffix) ? 2 : /sus/.test(suffix) ? 5 : /^(m(?!aj)|dim)/.test(suffix) ? 3 : 4;
    const fifth = /dim|b5/.test(suffix) ? 6 : /aug|\+|#5/.test(suffix) ? 8 : 7;
    steps.push(third, fifth);
    if (/maj(7|9|11|13)/i.test(suffix)) steps.push(11);
    else if (/dim7/.test(suffix)) steps.push(9);
    else if (/(^|[^d])(7|9|11|13)/.test(suffix.replace(/add\d+|6\/9|69/g, ""))) steps.push(10);
    if (/6/.test(suffix)) steps.push(9);
    if (/9|add2/.test(suffix)) steps.push(2);
    if (/add(4|11)/.test(suffix)) steps.push(5);
  }
  return [...new Set(steps.map((s) => (root + s) % 12))];
}

/** Lowest and highest note of a plucked backing chord: between the bass and the study's own upper strings. */
const LOWEST_MIDI = 52;
const HIGHEST_MIDI = 67;

/** Four notes at most, low to high, close to where the last chord lay. */
export function voicing(symbol: string, previous: readonly number[]): number[] {
  const classes = chordPitchClasses(symbol);
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
