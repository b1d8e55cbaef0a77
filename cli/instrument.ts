/** The flags that say which guitar it is. */
import { parseTuning } from "../src/theory/tuning.js";
import { type Flags, textFlag } from "./arguments.js";
import { wholeIn } from "./flag-values.js";

export type InstrumentFlags = { tuningName: string; openMidi: number[]; capo: number; highestFret?: number };

/** @throws PulgarError "bad-tuning", "bad-usage" */
export function instrumentFlags(flags: Flags): InstrumentFlags {
  const tuning = parseTuning(textFlag(flags, "tuning") ?? "standard");
  const capo = wholeIn(textFlag(flags, "capo") ?? "0", "--capo", 0, 11, "");
  const highest = textFlag(flags, "highest-fret");
  return {
    tuningName: tuning.name,
    openMidi: [...tuning.openMidi],
    capo,
    ...(highest === undefined ? {} : { highestFret: wholeIn(highest, "--highest-fret", capo + 4, 27, "") }),
  };
}
