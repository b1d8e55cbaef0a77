// Time and pooling on rendered takes as the listener hears them. Tempo without a tempo given, beside essentia's RhythmExtractor2013 and
// aubio on the same takes: within 1 %, or on another level of the same pulse. With tempo: placement and first beat. Pooling: onset F1
// (50 ms, as mir_eval) before and after, on hard takes of studies whose bars come four times or more and of studies in which nothing repeats.
// `--takes=N` of each sort (10), `--from=SEED` (9200), `--no-count-in`: nobody counts in.
import { openListener } from "../../cli/listener-runtime.js";
import { findAttacks } from "../../src/grid/attacks.js";
import { findGrid } from "../../src/grid/beats.js";
import { beatConfidence, unsureOf } from "../../src/grid/offered.js";
import { placeNotes } from "../../src/grid/place.js";
import { groupBars } from "../../src/grid/repeats.js";
import { listen } from "../../src/notes/listen.js";
import { poolRepeats } from "../../src/notes/pool.js";
import { matchNotes, scoreNotes } from "../helpers/score/notes.js";
import { placementRate } from "../helpers/score/take.js";
import { renderTake, type TakeOptions } from "../helpers/takes/take.js";
import { type BenchCase, type Cell, mean } from "./bench-case.js";
import {
  barSpans,
  flagValue,
  nothingRepeats,
  shareOftenHeard,
  studiesFrom,
  takeOptions,
} from "./grid-takes.js";
import { aubioTempo, EssentiaRhythm, hasAubio } from "./tempo-others.js";
import { tempoVerdict } from "./tempo-verdict.js";

const FIRST = 9200;
const bench: BenchCase = {
  name: "grid-heard",
  run: async ({ quick, flags, log }) => {
    const from = flagValue(flags, "from", FIRST);
    const count = flagValue(flags, "takes", quick ? 2 : 10);
    const sets = [
      { sort: "4+", studies: studiesFrom(from, count, (s) => shareOftenHeard(s) > 0.8) },
      { sort: "no repeat", studies: studiesFrom(from, count, nothingRepeats) },
    ];
    const listener = await openListener();
    const essentia = new EssentiaRhythm();
    const rows: Cell[][] = [];
    const bins = Array.from({ length: 10 }, () => ({ played: 0, all: 0 }));
    for (const { sort, studies } of sets)
      for (const { seed, study } of studies)
        for (const hard of [false, true]) {
          const dealt = takeOptions(seed, hard);
          const options: TakeOptions = flags.includes("--no-count-in")
            ? { ...dealt, countIn: "none" }
            : dealt;
          const rendered = await renderTake(study, options);
          const { take, notes, performance: played } = rendered;
          const listening = await listen(take, listener.run, { card: listener.card });
          const clicks = findAttacks(take)
            .filter((a) => !a.pitched)
            .map((a) => a.onsetSec);
          const beats = played.beatSec.length - 1;
          const startSec = played.beatSec[0] ?? 0;
          const trueBpm = (60 * beats) / ((played.beatSec[beats] ?? 0) - startSec);
          const blind = findGrid(listening, { clicks });
          const told = blind.readings.some((r) => Math.abs(r.tempoBpm / trueBpm - 1) < 0.01);
          const grid = findGrid(listening, { tempoBpm: study.tempoBpm, meter: study.meter, clicks });
          const placed = placeNotes(listening.notes, grid);
          const pooled = poolRepeats(listening, barSpans(grid), groupBars(placed, grid).groupOfBar);
          // What was heard of the count-in is no matter of pooling.
          const musicSec = Math.min(...notes.map((n) => n.onsetSec)) - 0.1;
          const inMusic = <T extends { onsetSec: number }>(list: readonly T[]): T[] =>
            list.filter((n) => n.onsetSec > musicSec);
          const all = inMusic([...listening.notes, ...listening.candidates]).sort(
            (a, b) => a.onsetSec - b.onsetSec || a.midi - b.midi,
          );
          const found = new Set(matchNotes(notes, all).map(([, e]) => e));
          all.forEach((n, k) => {
            const bin = bins[Math.min(9, Math.floor(n.confidence * 10))];
            if (bin === undefined) return;
            bin.all++;
            bin.played += found.has(k) ? 1 : 0;
          });
          rows.push([
            seed,
            hard ? "hard" : "clean",
            sort,
            tempoVerdict(blind.tempoBpm, trueBpm),
            told,
            tempoVerdict(await essentia.tempo(take), trueBpm),
            tempoVerdict(aubioTempo(take), trueBpm),
            placementRate(notes, placed).rate,
            Math.abs((grid.beatSec[0] ?? 0) - startSec) < 0.07,
            scoreNotes(notes, inMusic(listening.notes)).onset.f1,
            scoreNotes(notes, inMusic(pooled.notes)).onset.f1,
            options.countIn,
            beatConfidence(blind),
            unsureOf(blind) ?? "sure",
          ]);
          log(rows.at(-1)?.join(" ") ?? "");
        }
    await essentia.close();
    await listener.close();
    const tally = (list: readonly Cell[][], column: number): string => {
      const share = (what: string): string => `${list.filter((r) => r[column] === what).length}`;
      return `${share("right")} right, ${share("near")} near, ${share("level")} level, of ${list.length}`;
    };
    const summary: Cell[][] = [];
    for (const condition of ["clean", "hard"])
      for (const { sort } of sets) {
        const list = rows.filter((r) => r[1] === condition && r[2] === sort);
        const means = [7, 9, 10].map((c) => mean(list.map((r) => Number(r[c]))));
        const yes = (c: number): string => `${list.filter((r) => r[c] === true).length}/${list.length}`;
        summary.push([
          "all",
          condition,
          sort,
          tally(list, 3),
          yes(4),
          tally(list, 5),
          hasAubio() ? tally(list, 6) : "not here",
          means[0],
          yes(8),
          means[1],
          means[2],
        ]);
      }
    const byCountIn = [...new Set(rows.map((r) => String(r[11])))].map((countIn) => {
      const list = rows.filter((r) => r[11] === countIn);
      const count = (is: (r: Cell[]) => boolean): string => `${list.filter(is).length}/${list.length}`;
      return `${countIn}: first beat ${count((r) => r[8] === true)}, tempo ${count((r) => r[3] === "right")}`;
    });
    const wrongSure = rows.filter((r) => r[3] !== "right").map((r) => `${Number(r[12]).toFixed(2)} ${r[13]}`);
    const inVain = rows.filter((r) => r[3] === "right" && r[13] === "beat").length;
    const closed = (sort: string): string => {
      const row = summary.find((r) => r[1] === "hard" && r[2] === sort);
      const [before, after] = [Number(row?.[9]), Number(row?.[10])];
      return `pooling, hard, ${sort}: ${before.toFixed(4)} to ${after.toFixed(4)}, ${((100 * (after - before)) / (1 - before)).toFixed(0)} % of the remaining error`;
    };
    return {
      title: "Grid: heard by the listener",
      columns: [
        "seed",
        "condition",
        "bars",
        "tempo",
        "true one told",
        "essentia",
        "aubio",
        "placement",
        "first beat",
        "onset F1",
        "pooled",
        "count-in",
        "sure of beat",
        "unsure of",
      ],
      rows,
      summary,
      notes: [
        `by count-in: ${byCountIn.join("; ")}`,
        `tempi that are not right, how sure and what is said of it: ${wrongSure.join(", ") || "none"}; right ones said to be unsure: ${inVain}`,
        closed("4+"),
        closed("no repeat"),
        `played, by confidence: ${bins.map((b, k) => `${k / 10} ${b.all ? (b.played / b.all).toFixed(2) : "-"} (${b.all})`).join(", ")}`,
      ],
      print: 0,
    };
  },
};

export default bench;
