// Tempo when nobody says it, on studies heard by chance (tests/grid/simulate.ts), clean and hard, without a count-in and with one: how
// often the beat is right, how often a wrong one is said to be unsure, with the true one offered beside it, and how often a right one is
// doubted in vain. `--takes=N` studies (60), `--from=SEED` (9600): no weight was set on these. The listener itself: grid-heard.
import { findGrid } from "../../src/grid/beats.js";
import { beatConfidence, offeredReadings, unsureOf } from "../../src/grid/offered.js";
import { simulateListening } from "../grid/simulate.js";
import { type CountIn, perform } from "../helpers/takes/perform.js";
import type { BenchCase, Cell } from "./bench-case.js";
import { flagValue, studiesFrom } from "./grid-takes.js";
import { tempoVerdict } from "./tempo-verdict.js";

const FIRST = 9600;
const HEARINGS = {
  clean: { misses: 0.01, octaves: 0.005, restruck: 0.002, jitterMs: 5, drift: 0.005 },
  hard: { misses: 0.05, octaves: 0.03, restruck: 0.02, jitterMs: 12, drift: 0.03 },
} as const;
const COUNTED: readonly CountIn[] = ["clicks", "taps", "voice", "muted"];

const bench: BenchCase = {
  name: "tempo",
  run: async ({ quick, flags }) => {
    const studies = studiesFrom(flagValue(flags, "from", FIRST), flagValue(flags, "takes", quick ? 6 : 60));
    const rows: Cell[][] = [];
    for (const { seed, study } of studies)
      for (const [condition, hearing] of Object.entries(HEARINGS))
        for (const countIn of ["none", COUNTED[seed % COUNTED.length] as CountIn] as const) {
          const played = perform(study, { seed, ...hearing, countIn });
          const beats = played.beatSec.length - 1;
          const trueBpm = (60 * beats) / ((played.beatSec[beats] ?? 0) - (played.beatSec[0] ?? 0));
          const clicks = played.countIn.map((c) => c.atSec);
          const grid = findGrid(simulateListening(played, { seed, ...hearing }), { clicks });
          const offered = offeredReadings(grid).some((r) => Math.abs(r.tempoBpm / trueBpm - 1) < 0.02);
          const { beats: inBar, unit } = study.meter;
          const isBar = grid.meter.beats === inBar && grid.meter.unit === unit;
          rows.push([
            seed,
            condition,
            countIn === "none" ? "none" : "counted",
            study.pattern.name,
            tempoVerdict(grid.tempoBpm, trueBpm),
            grid.tempoBpm / trueBpm,
            isBar,
            beatConfidence(grid),
            unsureOf(grid) ?? "sure",
            offered,
          ]);
        }
    const share = (list: readonly Cell[][], is: (r: Cell[]) => boolean): string =>
      `${list.filter(is).length}/${list.length}`;
    const summary = ["none", "counted"].flatMap((countIn) =>
      Object.keys(HEARINGS).map((condition): Cell[] => {
        const list = rows.filter((r) => r[1] === condition && r[2] === countIn);
        const right = list.filter((r) => r[4] === "right");
        const wrong = list.filter((r) => r[4] !== "right");
        return [
          "all",
          condition,
          countIn,
          "",
          share(list, (r) => r[4] === "right"),
          `another level ${share(wrong, (r) => r[4] === "level")}`,
          `and the bar ${share(right, (r) => r[6] === true)}`,
          "",
          `wrong ones flagged ${share(wrong, (r) => r[8] === "beat")}, right ones in vain ${share(right, (r) => r[8] === "beat")}`,
          `true one offered ${share(wrong, (r) => r[9] === true)}`,
        ];
      }),
    );
    return {
      title: "Tempo not given: notes by chance",
      columns: [
        "seed",
        "condition",
        "count-in",
        "pattern",
        "tempo",
        "ratio",
        "bar",
        "sure of beat",
        "unsure of",
        "offered",
      ],
      rows,
      summary,
      print: 0,
    };
  },
};

export default bench;
