// How long a take takes to make, and how loud it is: the price of every other bench.
import { type BenchCase, type Cell, mean } from "./bench-case.js";
import { renderRow, takeSet } from "./take-set.js";

const bench: BenchCase = {
  name: "render",
  run: async ({ quick }) => {
    const { rows, notes } = takeSet(quick);
    const out: Cell[][] = [];
    for (const row of rows) {
      const started = performance.now();
      const { take, notes: sounding, aac } = await renderRow(row);
      const seconds = (performance.now() - started) / 1000;
      const lengthSec = take.samples.length / take.sampleRateHz;
      const level = Math.sqrt(take.samples.reduce((sum, x) => sum + x * x, 0) / take.samples.length);
      out.push([
        row.study.name,
        row.bank,
        row.condition,
        row.countIn,
        aac,
        lengthSec,
        sounding.length,
        seconds,
        lengthSec / seconds,
        20 * Math.log10(level),
      ]);
    }
    const of = (k: number): number[] => out.map((r) => Number(r[k]));
    return {
      title: "Rendering the common takes",
      columns: [
        "study",
        "guitar",
        "condition",
        "count-in",
        "aac",
        "sec",
        "notes",
        "took",
        "times real",
        "dBFS",
      ],
      rows: out,
      summary: [["mean", "", "", "", "", mean(of(5)), mean(of(6)), mean(of(7)), mean(of(8)), mean(of(9))]],
      notes,
    };
  },
};
export default bench;
