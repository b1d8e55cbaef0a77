/** One value of a table; numbers are printed with at most four digits after the point. */
export type Cell = string | number | boolean | undefined;

/** What a case hands back. `rows` are raw and go to a file whole; `summary` rows are printed under them.
 * @property print how many raw rows to print, all by default */
export type BenchTable = {
  title: string;
  columns: string[];
  rows: Cell[][];
  summary?: Cell[][];
  notes?: string[];
  print?: number;
};

/** @property quick a small share of the work, to see that a case runs @property flags what stands after "--" with a dash, such as "--seed=3"
 * @property log a line of progress, to stderr */
export type BenchOptions = { quick: boolean; flags: readonly string[]; log: (line: string) => void };

/** A case: tests/bench/NAME.bench.ts exports one as its default. Same inputs, same figures, but for seconds and memory. */
export type BenchCase = { name: string; run: (options: BenchOptions) => Promise<BenchTable> };

/** Mean of the numbers, 0 for none. */
export const mean = (list: readonly number[]): number =>
  list.length === 0 ? 0 : list.reduce((sum, x) => sum + x, 0) / list.length;
