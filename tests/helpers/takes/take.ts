import type { Take } from "../../../src/audio/take.js";
import { hasFfmpeg, throughAac } from "./aac.js";
import { type BankName, loadBank } from "./bank.js";
import { type Performance, type PerformOptions, perform, type TimedNote } from "./perform.js";
import { type RenderOptions, render } from "./render.js";
import { makeRng } from "./rng.js";
import type { Study } from "./study.js";

/** "clean": a quiet room, close by. "hard": T60 0.6 s, noise at 30 dB, 3 % drift, 12 ms jitter, up to 20 cents off, AAC at 96 kb/s. */
export type Condition = "clean" | "hard";

export type TakeOptions = PerformOptions & RenderOptions & { bank?: BankName; condition?: Condition };

/** A rendered take with all its truth. `notes` are what sounds (slips included), with audible ends;
 * `before` those of a false start.
 * @property aac "not done" when ffmpeg is absent in the hard condition */
export type RenderedTake = {
  take: Take;
  study: Study;
  performance: Performance;
  notes: TimedNote[];
  before: TimedNote[];
  tuningCents: number;
  bank: BankName;
  condition: Condition;
  aac: "none" | "96 kb/s" | "not done";
};

/** Composed study → played → rendered under a condition; options given by name win over the condition's.
 * The same study and options give the same samples. */
export async function renderTake(study: Study, options: TakeOptions = {}): Promise<RenderedTake> {
  const { bank = "steel", condition = "clean", seed = 1 } = options;
  const hard = condition === "hard";
  const rng = makeRng(`condition ${study.name} ${seed}`);
  const tuningCents = options.tuningCents ?? (hard ? (rng.next() * 2 - 1) * 20 : 0);
  const performance = perform(study, {
    ...options,
    seed,
    jitterMs: options.jitterMs ?? (hard ? 12 : 5),
    drift: options.drift ?? (hard ? 0.03 : 0.005),
  });
  const rendered = render(performance, await loadBank(bank), {
    ...options,
    seed,
    tuningCents,
    roomT60Sec: options.roomT60Sec ?? (hard ? 0.6 : 0),
    noiseDb: options.noiseDb ?? (hard ? 30 : 70),
  });
  const coded = hard && hasFfmpeg();
  const take = coded ? throughAac(rendered.take, 96) : rendered.take;
  const aac = coded ? "96 kb/s" : hard ? "not done" : "none";
  return {
    take,
    study,
    performance,
    notes: rendered.notes,
    before: rendered.before,
    tuningCents,
    bank,
    condition,
    aac,
  };
}
