import { ALL_BANKS, type BankName, hasBank } from "../helpers/takes/bank.js";
import type { CountIn } from "../helpers/takes/perform.js";
import { namedStudies } from "../helpers/takes/studies.js";
import type { Study } from "../helpers/takes/study.js";
import { type Condition, type RenderedTake, renderTake } from "../helpers/takes/take.js";

/** One take of the common set, not yet rendered. */
export type TakeRow = { study: Study; bank: BankName; condition: Condition; countIn: CountIn; seed: number };

const COUNT_INS: readonly CountIn[] = ["none", "clicks", "taps", "voice", "muted"];

/** The takes that benches share: every named study in both conditions, the five test guitars and the five ways of counting in
 * (the same take after take in both conditions) dealt out in turn. Guitars that are not here are replaced by those that are and named.
 * @param quick every fourth study only */
export function takeSet(quick: boolean): { rows: TakeRow[]; notes: string[] } {
  const banks = ALL_BANKS.filter(hasBank);
  const absent = ALL_BANKS.filter((b) => !banks.includes(b));
  const rows = namedStudies().flatMap((study, idx) =>
    (["clean", "hard"] as const).map((condition) => ({
      study,
      bank: banks[idx % banks.length] as BankName,
      condition,
      // Shifted once round the guitars, so that guitar and count-in are not tied together.
      countIn: COUNT_INS[(idx + Math.floor(idx / 5)) % COUNT_INS.length] as CountIn,
      seed: 100 + idx,
    })),
  );
  const kept = quick ? rows.filter((_, k) => k % 8 < 2) : rows;
  return { rows: kept, notes: absent.length > 0 ? [`guitars not here: ${absent.join(", ")}`] : [] };
}

/** Renders a row of the set. */
export const renderRow = (row: TakeRow): Promise<RenderedTake> =>
  renderTake(row.study, {
    bank: row.bank,
    condition: row.condition,
    countIn: row.countIn,
    seed: row.seed,
    leadSec: 0.4 + (row.seed % 5) * 0.3,
  });
