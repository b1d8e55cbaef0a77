/** Letters before the six lines. */
import { mod } from "../base/numbers.js";
import { pitchClassName } from "../theory/pitch.js";

/** Letters before the lines, string 1 first; the highest is small where it has the lowest one's letter.
 * @param openMidi strings 6 → 1 */
export function stringNames(openMidi: readonly number[]): string[] {
  const names = openMidi.map((midi) => pitchClassName(mod(midi, 12), "sharps")).reverse();
  const [first, last] = [names[0] ?? "", names.at(-1)];
  return [first === last ? first.toLowerCase() : first, ...names.slice(1)];
}
