// Published music that nobody here wrote (the pieces of the fingered set) played on the test guitars: notes heard, and the step each stands
// on. Bars are not scored, nor which of the levels of a pulse is the beat: the files tell neither. `--piece=NAME` keeps one.

import { openListener } from "../../cli/listener-runtime.js";
import { findGrid } from "../../src/grid/beats.js";
import { listen } from "../../src/notes/listen.js";
import { factsOf, sheetFromListening } from "../../src/pipeline.js";
import { hasShared } from "../helpers/needs.js";
import { errorKinds, matchNotes, scoreNotes } from "../helpers/score/notes.js";
import { ALL_BANKS, hasBank } from "../helpers/takes/bank.js";
import type { TimedNote } from "../helpers/takes/perform.js";
import { pieceStudies } from "../helpers/takes/pieces.js";
import { type RenderedTake, renderTake } from "../helpers/takes/take.js";
import { type BenchCase, type Cell, mean } from "./bench-case.js";
import { optionsFor } from "./draft.js";
import { tempoVerdict } from "./tempo-verdict.js";

type Placed = { onsetSec: number; offsetSec: number; midi: number; bar: number; tick: number };

const BAR_TICKS = 96;
/** From bar 1 beat 1; the ticks of a pick-up are counted from its own beginning. */
const ticksOf = (n: { bar: number; tick: number }, pickupBeats: number): number =>
  n.bar === 0 ? n.tick - 24 * pickupBeats : (n.bar - 1) * BAR_TICKS + n.tick;

/** Share of matched notes that stand where the music has them, counted from a first beat of the drafter's choice. */
function stepsRight(
  take: RenderedTake,
  notes: readonly Placed[],
  pickupBeats: number,
): { rate: number; offTicks: number } {
  const offs = matchNotes(take.notes, notes).map(
    ([r, e]) => ticksOf(notes[e] as Placed, pickupBeats) - ticksOf(take.notes[r] as TimedNote, 0),
  );
  const counts = new Map<number, number>();
  for (const off of offs) counts.set(off, (counts.get(off) ?? 0) + 1);
  const [offTicks, count] = [...counts].sort((a, b) => b[1] - a[1])[0] ?? [0, 0];
  return { rate: offs.length === 0 ? 0 : count / offs.length, offTicks };
}

const bench: BenchCase = {
  name: "pieces",
  run: async ({ quick, flags, log }) => {
    if (!hasShared("fingered")) throw new Error("the fingered set is not here: ../shared/fingered");
    const only = flags.find((f) => f.startsWith("--piece="))?.slice(8);
    const listener = await openListener();
    const banks = ALL_BANKS.filter(hasBank);
    const rows: Cell[][] = [];
    const kinds = new Map<string, number>();
    for (const [k, study] of pieceStudies().entries()) {
      if ((quick && k % 8 > 0) || (only !== undefined && study.name !== only)) continue;
      for (const condition of ["clean", "hard"] as const) {
        const bank = banks[k % banks.length] as (typeof banks)[number];
        const take = await renderTake(study, { bank, condition, seed: 500 + k });
        const heard = await listen(take.take, listener.run, { card: listener.card });
        const sheet = sheetFromListening(factsOf(take.take), heard, optionsFor(study));
        const notes = sheet.notes.flatMap((n) =>
          n.onsetSec === undefined
            ? []
            : [{ ...n, onsetSec: n.onsetSec, offsetSec: n.offsetSec ?? n.onsetSec }],
        );
        const before = scoreNotes(take.notes, heard.notes).onset;
        const { onset } = scoreNotes(take.notes, notes);
        const steps = stepsRight(take, notes, sheet.grid.pickupBeats);
        const free = findGrid(heard);
        for (const [side, list] of Object.entries(errorKinds(take.notes, notes)))
          for (const [kind, count] of Object.entries(list)) {
            const key = `${condition}: ${side === "falseNotes" ? "false" : "missed"} ${kind}`;
            kinds.set(key, (kinds.get(key) ?? 0) + count);
          }
        rows.push([
          study.name,
          bank,
          condition,
          take.notes.length,
          before.f1,
          onset.f1,
          onset.precision,
          onset.recall,
          steps.rate,
          steps.offTicks / 24,
          study.tempoBpm,
          free.tempoBpm,
          tempoVerdict(free.tempoBpm, study.tempoBpm),
        ]);
        log(`${study.name} ${condition}: onset ${onset.f1.toFixed(3)}, steps ${steps.rate.toFixed(3)}`);
      }
    }
    await listener.close();
    const summary = ["clean", "hard"].map((condition): Cell[] => {
      const those = rows.filter((r) => r[2] === condition);
      const samePulse = those.filter((r) => r[12] !== "wrong").length;
      return [
        "mean",
        "all",
        condition,
        those.reduce((sum, r) => sum + (r[3] as number), 0),
        ...[4, 5, 6, 7, 8].map((c) => mean(those.map((r) => r[c] as number))),
        "",
        "",
        "",
        `same pulse ${samePulse} of ${those.length}`,
      ];
    });
    return {
      title: "Published pieces, heard",
      columns: [
        "piece",
        "guitar",
        "condition",
        "notes",
        "heard F1",
        "sheet F1",
        "P",
        "R",
        "steps right",
        "off, beats",
        "bpm",
        "said, none given",
        "tempo",
      ],
      rows,
      summary,
      notes: [...kinds].filter(([, n]) => n > 0).map(([kind, n]) => `${kind} ${n}`),
    };
  },
};
export default bench;
