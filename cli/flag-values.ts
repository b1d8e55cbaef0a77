/** Text of the command line becomes checked values; each error says what was found and what is accepted. */
import { PulgarError } from "../src/base/errors.js";
import type { Meter } from "../src/grid/grid.js";

/** @param low, high accepted range, both included */
export function numberIn(text: string, flag: string, low: number, high: number, unit: string): number {
  const x = Number(text);
  if (text.trim() === "" || !Number.isFinite(x) || x < low || x > high)
    throw new PulgarError(
      "bad-usage",
      `${flag} ${text}: need a number from ${low} to ${high} ${unit}`.trim(),
      `For instance: ${flag} ${exampleOf(flag, low)}`,
    );
  return x;
}

export function wholeIn(text: string, flag: string, low: number, high: number, unit: string): number {
  const x = numberIn(text, flag, low, high, unit);
  if (!Number.isInteger(x))
    throw new PulgarError(
      "bad-usage",
      `${flag} ${text}: need a whole number`,
      `For instance: ${flag} ${Math.round(x)}`,
    );
  return x;
}

const exampleOf = (flag: string, low: number): string =>
  flag.includes("tempo") ? "96" : String(Math.max(low, 2));

/** `4/4`, `6/8` … @throws PulgarError "bad-meter" */
export function parseMeter(text: string): Meter {
  const match = /^\s*(\d{1,2})\s*\/\s*(\d{1,2})\s*$/.exec(text);
  const beats = Number(match?.[1]);
  const unit = Number(match?.[2]);
  if (!match || beats < 1 || beats > 24 || ![2, 4, 8, 16].includes(unit))
    throw new PulgarError(
      "bad-meter",
      `--meter ${text}: need beats (1 to 24) over 2, 4, 8 or 16`,
      "For instance: --meter 4/4, 3/4, 6/8",
    );
  return { beats, unit };
}

/** Tempo of the meter's lower number, from a plain or a dotted tempo.
 * 6/8 at 60 dotted quarters a minute is 180 eighths a minute: three eighths to a dotted quarter. */
export function tempoOf(
  flags: { tempo?: string | undefined; dottedTempo?: string | undefined },
  meter: Meter | undefined,
): number | undefined {
  if (flags.tempo !== undefined && flags.dottedTempo !== undefined)
    throw new PulgarError(
      "bad-usage",
      "--tempo and --dotted-tempo clash: give one",
      "--tempo counts the meter's lower number, --dotted-tempo dotted notes.",
    );
  if (flags.tempo !== undefined) return checkedTempo(flags.tempo, "--tempo");
  if (flags.dottedTempo === undefined) return undefined;
  if (!meter || meter.beats % 3 !== 0)
    throw new PulgarError(
      "bad-usage",
      "--dotted-tempo needs a meter in threes",
      "Add for instance --meter 6/8, or use --tempo.",
    );
  return checkedTempo(flags.dottedTempo, "--dotted-tempo") * 3;
}

function checkedTempo(text: string, flag: string): number {
  const bpm = Number(text);
  if (text.trim() === "" || !Number.isFinite(bpm) || bpm < 20 || bpm > 500)
    throw new PulgarError(
      "bad-tempo",
      `${flag} ${text}: need 20 to 500 beats a minute`,
      `For instance: ${flag} 96`,
    );
  return bpm;
}

/** One of a list, with the nearest offered. */
export function oneOf<T extends string>(text: string, flag: string, choices: readonly T[]): T {
  const found = choices.find((choice) => choice === text);
  if (found === undefined)
    throw new PulgarError(
      "bad-usage",
      `${flag} ${text}: need ${choices.join(", ")}`,
      `For instance: ${flag} ${choices[0]}`,
    );
  return found;
}
