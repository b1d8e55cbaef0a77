import type { Sheet } from "../../src/sheet/sheet.js";
import { scoreSheet, type TakeScore } from "../helpers/score/take.js";
import type { RenderedTake } from "../helpers/takes/take.js";
import { type BenchTable, type Cell, mean } from "./bench-case.js";
import type { TakeRow } from "./take-set.js";

export type ScoredTake = {
  row: TakeRow;
  score: TakeScore;
  secondsPerMinute: number;
  firstBeatRight: boolean;
  said: string;
};

/** Scores one drafted sheet of the set. @param seconds that drafting took */
export function scoreRow(row: TakeRow, rendered: RenderedTake, sheet: Sheet, seconds: number): ScoredTake {
  const minutes = rendered.take.samples.length / rendered.take.sampleRateHz / 60;
  const firstSec = rendered.performance.beatSec[0] as number;
  return {
    row,
    score: scoreSheet(rendered, sheet),
    secondsPerMinute: seconds / minutes,
    firstBeatRight: Math.abs((sheet.grid.beatSec[0] ?? Number.POSITIVE_INFINITY) - firstSec) <= 0.07,
    said: sheet.mode === undefined ? "none" : `${sheet.mode.tonic} ${sheet.mode.mode}`,
  };
}

const FIGURES: readonly (readonly [string, (t: ScoredTake) => number])[] = [
  ["onset F1", (t) => t.score.onset.f1],
  ["precision", (t) => t.score.onset.precision],
  ["recall", (t) => t.score.onset.recall],
  ["on+off F1", (t) => t.score.onsetOffset.f1],
  ["place F1", (t) => t.score.place.f1],
  ["place/matched", (t) => t.score.placeOfMatched],
  ["p-i-m-a", (t) => t.score.fingers],
  ["placement", (t) => t.score.placement],
  ["beat F", (t) => t.score.beatF],
  ["beat 1", (t) => Number(t.firstBeatRight)],
  ["majmin", (t) => t.score.majmin],
  ["bass", (t) => t.score.bass],
  ["mode", (t) => Number(t.score.modeRight)],
  ["s/min", (t) => t.secondsPerMinute],
];

/** One table: a row a take, means by condition and by guitar, the kinds of wrong notes. */
export function scoreTable(scored: readonly ScoredTake[], notes: readonly string[]): BenchTable {
  const figures = (list: readonly ScoredTake[]): number[] => FIGURES.map(([, of]) => mean(list.map(of)));
  const rows: Cell[][] = scored.map((t) => [
    t.row.study.name,
    t.row.bank,
    t.row.condition,
    ...FIGURES.map(([, of]) => of(t)),
    t.said,
  ]);
  const summary: Cell[][] = [];
  for (const condition of ["clean", "hard"] as const) {
    const those = scored.filter((t) => t.row.condition === condition);
    if (those.length === 0) continue;
    for (const bank of [...new Set(those.map((t) => t.row.bank))])
      summary.push(["mean", bank, condition, ...figures(those.filter((t) => t.row.bank === bank)), ""]);
    summary.push(["mean", "all", condition, ...figures(those), ""]);
  }
  const kinds = (["falseNotes", "missedNotes"] as const).flatMap((side) =>
    (["clean", "hard"] as const).map((condition) => {
      const sums = new Map<string, number>();
      for (const t of scored)
        if (t.row.condition === condition)
          for (const [kind, count] of Object.entries(t.score.kinds[side]))
            sums.set(kind, (sums.get(kind) ?? 0) + count);
      const said = [...sums].map(([kind, count]) => `${kind} ${count}`).join(", ");
      return `${side === "falseNotes" ? "false" : "missed"} notes, ${condition}: ${said}`;
    }),
  );
  const asked = (["clean", "hard"] as const).map((condition) => {
    const said = (["right", "misplaced", "false"] as const).map((which) => {
      const those = scored.filter((t) => t.row.condition === condition).map((t) => t.score.asked[which]);
      const sum = (of: "asked" | "all"): number => those.reduce((s, t) => s + t[of], 0);
      return `${sum("asked")} of ${sum("all")} ${which} notes`;
    });
    return `asked about, ${condition}: ${said.join(", ")}`;
  });
  return {
    title: "Recording in, sheet out",
    columns: ["study", "guitar", "condition", ...FIGURES.map(([name]) => name), "said mode"],
    rows,
    summary,
    notes: [...kinds, ...asked, ...notes],
  };
}
