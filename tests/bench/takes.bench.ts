// The whole job on the common takes: recording in, sheet out, scored against the truth as mir_eval does. Tempo, meter,
// tuning and capo are given, as the first README line gives them; `--no-tempo` withholds tempo and meter. `--study=NAME`
// keeps one study. Peak memory is that of a process which does nothing but draft one take (draft-once.ts).

import type { BenchCase } from "./bench-case.js";
import { loadDraft, optionsFor } from "./draft.js";
import { draftAlone } from "./draft-alone.js";
import { type ScoredTake, scoreRow, scoreTable } from "./score-table.js";
import { renderRow, takeSet } from "./take-set.js";

const bench: BenchCase = {
  name: "takes",
  run: async ({ quick, flags, log }) => {
    const draft = await loadDraft();
    const withTempo = !flags.includes("--no-tempo");
    const only = flags.find((f) => f.startsWith("--study="))?.slice(8);
    const set = takeSet(quick);
    const scored: ScoredTake[] = [];
    for (const row of set.rows) {
      if (only !== undefined && row.study.name !== only) continue;
      const rendered = await renderRow(row);
      const started = performance.now();
      const { sheet } = await draft(rendered.take, optionsFor(row.study, withTempo));
      const seconds = (performance.now() - started) / 1000;
      scored.push(scoreRow(row, rendered, sheet, seconds));
      log(`${row.study.name} ${row.condition}: onset ${scored.at(-1)?.score.onset.f1.toFixed(3)}`);
    }
    const memory = await draftAlone(60);
    return scoreTable(scored, [...set.notes, ...memory]);
  },
};
export default bench;
