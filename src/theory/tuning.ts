/** Tunings by name or by their six notes. */
import { PulgarError } from "../base/errors.js";
import { nearestWord } from "../base/nearest.js";
import { midiName, midiOfName } from "./pitch.js";
import { TUNINGS, type Tuning } from "./tuning-table.js";

/** Lowest and highest pitch that an open string may have: B1 to B4. */
const OPEN_RANGE = { lowestMidi: 35, highestMidi: 71 } as const;

/** Reads `drop-d`, `Drop D`, `dadgad`, or six notes from string 6 to 1 such as `D2 A2 D3 G3 A3 D4`.
 * @throws PulgarError "bad-tuning" with the nearest name */
export function parseTuning(text: string): Tuning {
  const name = text
    .trim()
    .toLowerCase()
    .replace(/[\s_]+/g, "-");
  const known = TUNINGS.find((t) => t.name === name);
  if (known) return known;
  const words = text.trim().split(/[\s,]+/);
  const openMidi = words.map(midiOfName);
  if (words.length === 6 && openMidi.every((m) => m !== undefined))
    return checkedNotes(openMidi as number[], text);
  const near = nearestWord(
    name,
    TUNINGS.map((t) => t.name),
  );
  throw new PulgarError(
    "bad-tuning",
    `tuning ${text}: need a name (${TUNINGS.map((t) => t.name).join(", ")}) or six notes from string 6 to 1`,
    near ? `Did you mean ${near}?` : "For instance: D2 A2 D3 G3 A3 D4",
  );
}

function checkedNotes(openMidi: number[], text: string): Tuning {
  const isInRange = openMidi.every((m) => m >= OPEN_RANGE.lowestMidi && m <= OPEN_RANGE.highestMidi);
  if (!isInRange || (openMidi[0] ?? 0) >= (openMidi[5] ?? 0))
    throw new PulgarError(
      "bad-tuning",
      `tuning ${text}: need open strings from ${midiName(OPEN_RANGE.lowestMidi)} to ${midiName(OPEN_RANGE.highestMidi)}, lowest first`,
      "Name string 6 first: standard is E2 A2 D3 G3 B3 E4.",
    );
  return { name: tuningName(openMidi), openMidi };
}

/** The trade's name of six open strings, or their notes: `D2 A2 D3 G3 A3 E4`. */
export const tuningName = (openMidi: readonly number[]): string =>
  TUNINGS.find((t) => t.openMidi.every((m, k) => m === openMidi[k]))?.name ??
  openMidi.map((m) => midiName(m)).join(" ");
