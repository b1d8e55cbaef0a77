// The whole pipeline as the command line runs it, for benches: src/pipeline.ts with the runtime of cli/listener-runtime.ts.
import { openListener } from "../../cli/listener-runtime.js";
import type { Take } from "../../src/audio/take.js";
import type { Listening } from "../../src/notes/played-note.js";
import { draftSheet, type DraftOptions as PipelineOptions } from "../../src/pipeline.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import type { Study } from "../helpers/takes/study.js";

/** What a player would say on the command line. */
export type DraftOptions = PipelineOptions;

export type Draft = (take: Take, options: DraftOptions) => Promise<{ sheet: Sheet; listening: Listening }>;

/** Opens the listener once. */
export async function loadDraft(): Promise<Draft> {
  const listener = await openListener();
  return (take, options) => draftSheet(take, options, { runNet: listener.run, card: listener.card });
}

/** Tuning and capo as a player knows them, tempo and meter unless they are to be found out. */
export const optionsFor = (study: Study, withTempo = true): DraftOptions => ({
  ...(withTempo ? { tempoBpm: study.tempoBpm, meter: study.meter } : {}),
  tuningName: study.tuning,
  openMidi: [...study.openMidi],
  capo: study.capo,
});
