// Takes for the benches of the check: rendered and listened to by the trained listener, or, with `--simulated`, played to simulated ears.
import { existsSync, mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { openListener } from "../../cli/listener-runtime.js";
import { listen } from "../../src/notes/listen.js";
import type { Listening } from "../../src/notes/played-note.js";
import { simulateListening } from "../helpers/check/simulate.js";
import { ALL_BANKS, type BankName, hasBank } from "../helpers/takes/bank.js";
import { type Performance, type PerformOptions, perform, type TimedNote } from "../helpers/takes/perform.js";
import type { Study } from "../helpers/takes/study.js";
import { type Condition, renderTake } from "../helpers/takes/take.js";

export type CheckTake = {
  study: Study;
  condition: Condition;
  bank: BankName | "simulated";
  performance: Performance;
  notes: readonly TimedNote[];
  listening: Listening;
};

/** @param how otherwise than straight through; its name goes into the key under which the take is kept */
export type Ear = (
  study: Study,
  condition: Condition,
  idx: number,
  seed: number,
  how?: { name: string; options: PerformOptions },
) => Promise<CheckTake>;

type Kept = Pick<CheckTake, "performance" | "notes" | "listening">;
const FOLDER = join(tmpdir(), "pulgar-heard");

/** What was heard of a take stays in the temporary folder, by the weights that heard it: the fit and the bench listen once. */
function keep(key: string, { performance, notes, listening }: Kept): void {
  mkdirSync(FOLDER, { recursive: true });
  const { onset, sounding, ...rest } = listening.evidence;
  const maps = {
    onset: Buffer.from(onset).toString("base64"),
    sounding: Buffer.from(sounding).toString("base64"),
  };
  const body = { performance, notes, listening: { ...listening, evidence: { ...rest, ...maps } } };
  writeFileSync(join(FOLDER, `${key}.json`), JSON.stringify(body));
}

function readKept(key: string): Kept | undefined {
  const file = join(FOLDER, `${key}.json`);
  if (!existsSync(file)) return undefined;
  const body = JSON.parse(readFileSync(file, "utf8"));
  const map = (text: string): Int8Array =>
    Int8Array.from(Buffer.from(text, "base64"), (byte) => (byte << 24) >> 24);
  const { evidence } = body.listening;
  body.listening.evidence = { ...evidence, onset: map(evidence.onset), sounding: map(evidence.sounding) };
  return body as Kept;
}

/** An ear that renders and listens; guitars are dealt out in turn. Close it when done. */
export async function openEar(
  simulated: boolean,
): Promise<{ hear: Ear; close: () => Promise<void>; what: string }> {
  if (simulated) {
    const hear: Ear = async (study, condition, _idx, seed, how) => {
      const hard = condition === "hard";
      const performance = perform(study, {
        seed,
        jitterMs: hard ? 12 : 5,
        drift: hard ? 0.03 : 0.005,
        ...how?.options,
      });
      const ears = hard
        ? { seed, hit: 3.2, spread: 2, octaveGhost: 0.12, restrikeGhost: 0.06, missed: 0.03, jitterSec: 0.01 }
        : { seed };
      const sounds = [...performance.before, ...performance.notes];
      const listening = simulateListening(sounds, performance.durationSec, ears);
      return { study, condition, bank: "simulated", performance, notes: performance.notes, listening };
    };
    return { hear, close: async () => undefined, what: "simulated evidence" };
  }
  const listener = await openListener();
  const banks = ALL_BANKS.filter(hasBank);
  const hear: Ear = async (study, condition, idx, seed, how) => {
    const bank = banks[idx % banks.length] as BankName;
    const parts = [listener.card.sha256.slice(0, 12), study.name, condition, bank, seed, how?.name];
    const key = parts.filter((part) => part !== undefined).join("-");
    const kept = readKept(key);
    if (kept) return { study, condition, bank, ...kept };
    const rendered = await renderTake(study, { bank, condition, seed, leadSec: 0.6, ...how?.options });
    const listening = await listen(rendered.take, listener.run, { card: listener.card });
    const heard = { performance: rendered.performance, notes: rendered.notes, listening };
    keep(key, heard);
    return { study, condition, bank, ...heard };
  };
  return {
    hear,
    close: () => listener.close(),
    what: `guitars ${banks.join(", ")}; listener ${listener.runtime}`,
  };
}
