/** Guitar tunings by name or by notes, and where frets lie. In: text. Out: open strings 6 → 1 as MIDI numbers. */
import { PulgarError } from "../base/errors.js";
import { nearestWord } from "../base/nearest.js";
import { noteName, parseNote } from "./pitch.js";
import { TUNINGS } from "./tuning-table.js";

const NAMES = TUNINGS.flatMap((t) => [t.name, ...t.aliases]);

/** Lowest and highest open string that is taken for a guitar's: B1 of a baritone, and A4. From memory of makers' string sets. */
const LOWEST_OPEN = 33;
const HIGHEST_OPEN = 69;

/** Reads "standard", "drop-d", "DADGAD", or six notes with octaves from string 6 to string 1: "D2 A2 D3 G3 A3 D4".
 * @returns the table's name where the notes are those of a row, else the notes themselves as the name
 * @throws PulgarError "bad-tuning", offering the nearest name */
export function parseTuning(text: string): { name: string; openMidi: number[] } {
  const wanted = text
    .trim()
    .toLowerCase()
    .replaceAll("♯", "#")
    .replaceAll("♭", "b")
    .replace(/[\s_]+/g, "-");
  const found = TUNINGS.find((t) => t.name === wanted || t.aliases.includes(wanted));
  if (found) return { name: found.name, openMidi: [...found.openMidi] };
  const words = text
    .trim()
    .split(/[\s,]+/)
    .filter((w) => w !== "");
  const notes = words.map(parseNote);
  if (words.length > 1 && notes.some((n) => n !== undefined)) return fromNotes(text, words, notes);
  const near = nearestWord(wanted, NAMES);
  throw new PulgarError(
    "bad-tuning",
    `tuning "${text}": want a name or six notes from string 6 to string 1`,
    near
      ? `Did you mean ${near}?`
      : `Names: ${TUNINGS.map((t) => t.name).join(", ")}; or notes such as "D2 A2 D3 G3 A3 D4".`,
  );
}

function fromNotes(
  text: string,
  words: readonly string[],
  notes: readonly (number | undefined)[],
): { name: string; openMidi: number[] } {
  const badIdx = notes.indexOf(undefined);
  if (badIdx >= 0)
    throw new PulgarError(
      "bad-tuning",
      `tuning "${text}": "${words[badIdx]}" is not a note with an octave`,
      'Write notes such as E2 or Bb3; middle C is C4: "D2 A2 D3 G3 A3 D4".',
    );
  const openMidi = notes.filter((n) => n !== undefined);
  if (openMidi.length !== 6)
    throw new PulgarError(
      "bad-tuning",
      `tuning "${text}": ${openMidi.length} notes; need six`,
      "Give string 6 first, string 1 last.",
    );
  const far = openMidi.findIndex((m) => m < LOWEST_OPEN || m > HIGHEST_OPEN);
  if (far >= 0)
    throw new PulgarError(
      "bad-tuning",
      `tuning "${text}": ${words[far]} is outside ${noteName(LOWEST_OPEN)}…${noteName(HIGHEST_OPEN)}`,
      "Middle C is C4; the lowest string of a standard guitar is E2.",
    );
  if ((openMidi[0] ?? 0) > (openMidi[5] ?? 0))
    throw new PulgarError(
      "bad-tuning",
      `tuning "${text}": starts with the highest string`,
      "Give string 6, the lowest, first.",
    );
  return { name: tuningName(openMidi), openMidi };
}

/** Name of a tuning: the table's, else its notes, "D2 A2 D3 G3 A3 E4". @param openMidi six, string 6 → 1 */
export function tuningName(openMidi: readonly number[]): string {
  const found = TUNINGS.find(
    (t) => t.openMidi.length === openMidi.length && t.openMidi.every((m, k) => m === openMidi[k]),
  );
  return found ? found.name : openMidi.map((m) => noteName(m)).join(" ");
}

/** Distance from the nut to a fret in millimetres.
 * @param scaleLengthMm from nut to saddle; 650 for the concert guitar @param fret ≥ 0
 * Source: twelve equal steps an octave; builders divide the rest by 17.817 (= 1 / (1 − 2^(−1/12))) for each fret. */
export const fretDistanceMm = (scaleLengthMm: number, fret: number): number =>
  scaleLengthMm * (1 - 2 ** (-fret / 12));
