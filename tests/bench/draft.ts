// The whole pipeline as the command line runs it, for benches: src/pipeline.ts with the runtime of cli/listener-runtime.ts.
// Loaded when a bench runs, so that the other benches do without the weights and the native runtime.
import type { Take } from "../../src/audio/take.js";
import type { Meter } from "../../src/grid/grid.js";
import type { Listening } from "../../src/notes/played-note.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import type { Study } from "../helpers/takes/study.js";

/** What a player would say on the command line. */
export type DraftOptions = {
  tempoBpm?: number;
  meter?: Meter;
  tuningName: string;
  openMidi: number[];
  capo: number;
};

export type Draft = (take: Take, options: DraftOptions) => Promise<{ sheet: Sheet; listening: Listening }>;

type Pipeline = {
  draftSheet: (
    take: Take,
    options: DraftOptions,
    deps: unknown,
  ) => Promise<{ sheet: Sheet; listening: Listening }>;
};
type Runtime = { loadDeps: () => Promise<unknown> };

/** Loads pipeline and runtime once.
 * @throws Error when either is not there */
export async function loadDraft(): Promise<Draft> {
  const pipelineFile = "../../src/pipeline.js";
  const runtimeFile = "../../cli/listener-runtime.js";
  const { draftSheet } = (await import(pipelineFile)) as Pipeline;
  const { loadDeps } = (await import(runtimeFile)) as Runtime;
  const deps = await loadDeps();
  return (take, options) => draftSheet(take, options, deps);
}

/** Tuning and capo as a player knows them, tempo and meter unless they are to be found out. */
export const optionsFor = (study: Study, withTempo = true): DraftOptions => ({
  ...(withTempo ? { tempoBpm: study.tempoBpm, meter: study.meter } : {}),
  tuningName: study.tuning,
  openMidi: [...study.openMidi],
  capo: study.capo,
});
