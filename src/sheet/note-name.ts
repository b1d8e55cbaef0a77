/** Names of open strings: "E2" and back, and the letters before the six lines. Octave 4 begins at middle C = 60 (scientific pitch notation). */
const NAMES = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"] as const;
const LETTERS: Record<string, number> = { C: 0, D: 2, E: 4, F: 5, G: 7, A: 9, B: 11 };

/** "E2" of 40. @param midi 0…127 */
export const noteName = (midi: number): string =>
  `${NAMES[((midi % 12) + 12) % 12]}${Math.floor(midi / 12) - 1}`;

/** 0…11 of a letter with signs, either case; undefined for what is none. */
export function pitchClassOf(name: string): number | undefined {
  const match = /^([A-Ga-g])([#b♯♭]{0,2})$/.exec(name);
  const letter = LETTERS[(match?.[1] ?? "").toUpperCase()];
  if (!match || letter === undefined) return undefined;
  let pitchClass = letter;
  for (const sign of match[2] ?? "") pitchClass += sign === "#" || sign === "♯" ? 1 : -1;
  return ((pitchClass % 12) + 12) % 12;
}

/** 40 of "E2"; undefined for what is no note name. */
export function parseNoteName(name: string): number | undefined {
  const match = /^([A-Ga-g])([#b♯♭]{0,2})(-?\d)$/.exec(name);
  const letter = LETTERS[(match?.[1] ?? "").toUpperCase()];
  if (!match || letter === undefined) return undefined;
  let midi = letter + 12 * (Number(match[3]) + 1);
  for (const sign of match[2] ?? "") midi += sign === "#" || sign === "♯" ? 1 : -1;
  return midi >= 0 && midi <= 127 ? midi : undefined;
}

/** Letters before the lines, string 1 first; the highest is small where it has the lowest one's letter.
 * @param openMidi strings 6 → 1 */
export function stringNames(openMidi: readonly number[]): string[] {
  const names = openMidi.map((midi) => NAMES[((midi % 12) + 12) % 12] ?? "C").reverse();
  const [first, last] = [names[0] ?? "", names.at(-1)];
  return [first === last ? first.toLowerCase() : first, ...names.slice(1)];
}
