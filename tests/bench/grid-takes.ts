// The takes that the benches of time share: studies by seed that no constant of src/grid, src/notes/pool or src/sheet was set by
// (those were set on the named studies and on seeds 500-600 and 7000-7799), with guitars and count-ins dealt out in turn.

import type { Grid } from "../../src/grid/grid.js";
import type { PoolBar } from "../../src/notes/pool.js";
import { ALL_BANKS, type BankName, hasBank } from "../helpers/takes/bank.js";
import type { CountIn } from "../helpers/takes/perform.js";
import { studyBySeed } from "../helpers/takes/studies.js";
import type { Study } from "../helpers/takes/study.js";
import type { TakeOptions } from "../helpers/takes/take.js";
import { mean } from "./bench-case.js";

export const FIRST_SEED = 9000;

const COUNT_INS: readonly CountIn[] = ["none", "clicks", "taps", "voice", "muted"];

/** How the study of a seed is rendered. */
export function takeOptions(seed: number, hard: boolean): TakeOptions {
  const banks = ALL_BANKS.filter(hasBank);
  return {
    seed,
    condition: hard ? "hard" : "clean",
    bank: banks[seed % banks.length] as BankName,
    countIn: COUNT_INS[(seed + Math.floor(seed / 5)) % COUNT_INS.length] as CountIn,
    leadSec: 0.4 + (seed % 4) * 0.3,
  };
}

/** Studies by seed from `from` on that `want` keeps, `count` of them. */
export function studiesFrom(
  from: number,
  count: number,
  want: (study: Study) => boolean = () => true,
): { seed: number; study: Study }[] {
  const out: { seed: number; study: Study }[] = [];
  for (let seed = from; out.length < count; seed++) {
    const study = studyBySeed(seed);
    if (want(study)) out.push({ seed, study });
  }
  return out;
}

/** Part of the bars that come at least four times, by the truth of the study. */
export const shareOftenHeard = (study: Study): number =>
  mean(study.kinOfBar.map((kin) => (study.kinOfBar.filter((k) => k === kin).length >= 4 ? 1 : 0)));

export const nothingRepeats = (study: Study): boolean => new Set(study.kinOfBar).size === study.barCount;

/** The bars of a grid with their beats, as pooling asks for them. */
export const barSpans = ({ beatSec, meter, barCount }: Grid): PoolBar[] =>
  Array.from({ length: barCount }, (_, k) => {
    const own = beatSec.slice(k * meter.beats, (k + 1) * meter.beats + 1);
    return { startSec: own[0] ?? 0, endSec: own.at(-1) ?? 0, beatSec: own };
  });

/** The value of a flag such as "--takes=12". */
export function flagValue(flags: readonly string[], name: string, usual: number): number {
  const found = flags.find((f) => f.startsWith(`--${name}=`));
  return found === undefined ? usual : Number(found.slice(name.length + 3));
}
