// Time, form, pattern and pooling on takes whose notes come from a listener by chance (tests/grid/simulate.ts) and whose attacks come
// from the rendered sound: placement, beats (F as mir_eval), first beat, feel, with attack times and without; pairs of same bars;
// form; pattern; and seconds for ten minutes of notes. `--takes=N` studies (60), `--from=SEED` (9000),
// `--no-sound` for a quick look: nothing is rendered, attacks are the true counts, and only the first way is tried. The listener itself: grid-heard.
import { findAttacks } from "../../src/grid/attacks.js";
import { findGrid } from "../../src/grid/beats.js";
import { placeNotes } from "../../src/grid/place.js";
import { groupBars } from "../../src/grid/repeats.js";
import { findForm } from "../../src/sheet/form.js";
import { findPattern } from "../../src/sheet/pattern.js";
import { simulateListening } from "../grid/simulate.js";
import { beatFMeasure } from "../helpers/score/beats.js";
import { placementRate } from "../helpers/score/take.js";
import { type Performance, perform } from "../helpers/takes/perform.js";
import type { Study } from "../helpers/takes/study.js";
import { renderTake, type TakeOptions } from "../helpers/takes/take.js";
import { toSheet } from "../helpers/takes/to-sheet.js";
import { type BenchCase, type Cell, mean } from "./bench-case.js";
import { FIRST_SEED, flagValue, studiesFrom, takeOptions } from "./grid-takes.js";
import { tenMinutes } from "./ten-minutes.js";

type Figures = {
  right: number;
  notes: number;
  beatF: number;
  first: boolean;
  feel: boolean;
};
const HEARING = {
  clean: { misses: 0.01, octaves: 0.005, restruck: 0.002 },
  hard: { misses: 0.05, octaves: 0.03, restruck: 0.02 },
} as const;

/** As tests/helpers/takes/take.ts has its conditions played. */
const PLAYING = {
  clean: { jitterMs: 5, drift: 0.005 },
  hard: { jitterMs: 12, drift: 0.03 },
} as const;

type Heard = { performance: Performance; attackSec: number[] };

async function rendered(study: Study, options: TakeOptions): Promise<Heard> {
  const { take, performance } = await renderTake(study, options);
  const unpitched = findAttacks(take).filter((a) => !a.pitched);
  return { performance, attackSec: unpitched.map((a) => a.onsetSec) };
}

/** The same without the sound: attacks are where the counts are. */
function unheard(study: Study, options: TakeOptions): Heard {
  const performance = perform(study, { ...options, ...PLAYING[options.condition ?? "clean"] });
  return { performance, attackSec: performance.countIn.map((c) => c.atSec) };
}

const bench: BenchCase = {
  name: "grid",
  run: async ({ quick, flags, log }) => {
    const noSound = flags.includes("--no-sound");
    const studies = studiesFrom(
      flagValue(flags, "from", FIRST_SEED),
      flagValue(flags, "takes", quick ? 6 : 60),
    );
    const rows: Cell[][] = [];
    const summary: Cell[][] = [];
    const notes: string[] = [];
    for (const condition of ["clean", "hard"] as const) {
      const all = new Map<string, Figures[]>([
        ["attacks", []],
        ["no attacks", []],
        ["paused", []],
      ]);
      const pairs = { both: 0, estimated: 0, true: 0 };
      let forms = 0;
      for (const { seed, study } of studies) {
        const options = takeOptions(seed, condition === "hard");
        const { performance, attackSec } = noSound ? unheard(study, options) : await rendered(study, options);
        const hearing = { seed, ...HEARING[condition] };
        const listening = simulateListening(performance, hearing);
        const given = { tempoBpm: study.tempoBpm, meter: study.meter };
        for (const way of noSound ? (["attacks"] as const) : (["attacks", "no attacks", "paused"] as const)) {
          // A pause of 0.3 s before a bar in the middle: what comes after it must not shift.
          const pauses = [{ beforeBar: 1 + Math.ceil(study.barCount / 2), sec: 0.3 }];
          const played =
            way === "paused" ? perform(study, { ...options, ...PLAYING[condition], pauses }) : performance;
          const heard = way === "paused" ? simulateListening(played, hearing) : listening;
          const grid = findGrid(heard, way === "no attacks" ? given : { ...given, clicks: attackSec });
          const placed = placeNotes(heard.notes, grid);
          const { rate, count } = placementRate(played.notes, placed);
          const startSec = grid.beatSec[0] ?? Number.NaN;
          const trueSec = played.beatSec[0] ?? Number.NaN;
          const figures: Figures = {
            right: rate * count,
            notes: count,
            beatF: beatFMeasure(played.beatSec, grid.beatSec),
            first: Math.abs(startSec - trueSec) < 0.07,
            feel: grid.feel === study.feel,
          };
          all.get(way)?.push(figures);
          rows.push([
            seed,
            condition,
            way,
            study.pattern.name,
            options.countIn,
            rate,
            figures.beatF,
            figures.first,
            figures.feel,
          ]);
          if (way !== "attacks") continue;
          const { groupOfBar } = groupBars(placed, grid);
          const kin = study.kinOfBar;
          for (let a = 0; a < kin.length; a++)
            for (let b = 0; b < a; b++) {
              const same = kin[a] === kin[b];
              const said = groupOfBar[a] !== undefined && groupOfBar[a] === groupOfBar[b];
              pairs.true += same ? 1 : 0;
              pairs.estimated += said ? 1 : 0;
              pairs.both += same && said ? 1 : 0;
            }
          const written = (form: readonly { label: string; bars: readonly number[] }[]): string =>
            form.map((p) => p.label + p.bars.length).join(" ");
          if (written(findForm(groupOfBar).form) === written(study.form)) forms++;
        }
        log(`${seed} ${condition}: ${rows.at(noSound ? -1 : -3)?.[5]}`);
      }
      for (const [way, list] of all) {
        if (list.length === 0) continue;
        summary.push([
          "all",
          condition,
          way,
          `${list.reduce((s, f) => s + f.notes, 0)} notes`,
          "",
          list.reduce((s, f) => s + f.right, 0) / list.reduce((s, f) => s + f.notes, 0),
          mean(list.map((f) => f.beatF)),
          `${list.filter((f) => f.first).length}/${list.length}`,
          `${list.filter((f) => f.feel).length}/${list.length}`,
        ]);
      }
      const f1 = (2 * pairs.both) / (pairs.true + pairs.estimated);
      notes.push(
        `${condition}: pairs of same bars P ${(pairs.both / pairs.estimated).toFixed(4)} R ${(pairs.both / pairs.true).toFixed(4)} F1 ${f1.toFixed(4)}; ` +
          `form letter for letter ${forms}/${studies.length} (another cut into sections may be as right)`,
      );
    }
    const patterned = studies.filter(({ study }) => study.patternBars.length >= 0.34 * study.barCount);
    const found = patterned.filter(({ study }) => {
      const sheet = toSheet(study);
      const pattern = findPattern(sheet.notes, sheet.grid);
      return pattern?.beats === study.pattern.beats && pattern.bars.join() === study.patternBars.join();
    });
    notes.push(
      `pattern with its bars, from true sheets: ${found.length}/${patterned.length}`,
      ...tenMinutes(),
    );
    return {
      title: "Grid: notes by chance, attacks from the sound",
      columns: [
        "seed",
        "condition",
        "way",
        "pattern",
        "count-in",
        "placement",
        "beat F",
        "first beat",
        "feel",
      ],
      rows,
      summary,
      notes,
      print: 0,
    };
  },
};

export default bench;
