// Runs the benches and keeps what they say. `npm run bench` runs all, `npm run bench -- takes grid` those named;
// `--quick` a small share of each. Prints machine, versions and one table a case; raw rows go to .bench/NAME.json.
import { spawnSync } from "node:child_process";
import { mkdirSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { cpus, platform, release, totalmem } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import type { BenchCase, BenchTable, Cell } from "./bench-case.js";

const FOLDER = import.meta.dirname;
const ROOT = join(FOLDER, "../..");
const OUT = join(ROOT, ".bench");

const text = (cell: Cell): string => {
  if (cell === undefined) return "";
  if (typeof cell === "number")
    return Number.isInteger(cell) ? String(cell) : cell.toFixed(Math.abs(cell) >= 100 ? 1 : 4);
  return String(cell);
};

/** Plain table, columns padded; numbers to the right. */
function tableText(table: BenchTable): string {
  const shown = table.print === undefined ? table.rows : table.rows.slice(0, table.print);
  const rows = [...shown, ...(table.summary ?? [])];
  const cells = [table.columns, ...rows.map((row) => row.map(text))];
  const widths = table.columns.map((_, k) => Math.max(...cells.map((row) => (row[k] ?? "").length)));
  const right = table.columns.map((_, k) => rows.some((row) => typeof row[k] === "number"));
  const line = (row: readonly string[]): string =>
    widths
      .map((w, k) => (right[k] ? (row[k] ?? "").padStart(w) : (row[k] ?? "").padEnd(w)))
      .join("  ")
      .trimEnd();
  const rule = "-".repeat(widths.reduce((sum, w) => sum + w + 2, -2));
  const body = cells.slice(1, 1 + shown.length).map(line);
  const foot = cells.slice(1 + shown.length).map(line);
  return [line(table.columns), rule, ...body, ...(foot.length > 0 ? [rule, ...foot] : [])].join("\n");
}

/** Machine, Node and the versions of the packages that the figures depend on. */
function setting(): Record<string, string> {
  const lock = JSON.parse(readFileSync(join(ROOT, "package-lock.json"), "utf8")) as {
    packages: Record<string, { version?: string }>;
  };
  const versionOf = (name: string): string => lock.packages[`node_modules/${name}`]?.version ?? "absent";
  const packages = [
    "onnxruntime-node",
    "onnxruntime-web",
    "essentia.js",
    "tonal",
    "audio-decode",
    "fft.js",
    "verovio",
  ];
  const commit = spawnSync("git", ["rev-parse", "--short", "HEAD"], { cwd: ROOT, encoding: "utf8" });
  return {
    machine: `${cpus()[0]?.model.trim() ?? "unknown"}, ${cpus().length} cores, ${Math.round(totalmem() / 2 ** 30)} GiB, ${platform()} ${release()}`,
    node: process.version,
    packages: packages.map((p) => `${p} ${versionOf(p)}`).join(", "),
    commit: commit.status === 0 ? commit.stdout.trim() : "unknown",
  };
}

async function main(): Promise<void> {
  const args = process.argv.slice(2);
  const flags = args.filter((a) => a.startsWith("-"));
  const names = args.filter((a) => !a.startsWith("-"));
  const files = readdirSync(FOLDER)
    .filter((f) => f.endsWith(".bench.ts"))
    .sort();
  const cases: BenchCase[] = [];
  for (const file of files) {
    const module = (await import(pathToFileURL(join(FOLDER, file)).href)) as { default: BenchCase };
    cases.push(module.default);
  }
  const unknown = names.filter((n) => !cases.some((c) => c.name === n));
  if (unknown.length > 0) {
    console.error(
      `error: no bench named ${unknown.join(", ")}\nhint: there are ${cases.map((c) => c.name).join(", ")}`,
    );
    process.exitCode = 2;
    return;
  }
  const where = setting();
  for (const [key, value] of Object.entries(where)) console.log(`${key}: ${value}`);
  mkdirSync(OUT, { recursive: true });
  for (const bench of names.length > 0 ? cases.filter((c) => names.includes(c.name)) : cases) {
    const started = performance.now();
    const log = (line: string): void => console.error(`  ${bench.name}: ${line}`);
    try {
      const table = await bench.run({ quick: flags.includes("--quick"), flags, log });
      const seconds = (performance.now() - started) / 1000;
      console.log(
        `\n# ${table.title} (npm run bench -- ${[bench.name, ...flags].join(" ")}; ${seconds.toFixed(0)} s)\n`,
      );
      console.log(tableText(table));
      for (const note of table.notes ?? []) console.log(note);
      writeFileSync(
        join(OUT, `${bench.name}.json`),
        `${JSON.stringify({ ...where, flags, seconds, ...table }, null, 1)}\n`,
      );
    } catch (cause) {
      console.error(`error: the bench ${bench.name} failed: ${cause instanceof Error ? cause.stack : cause}`);
      process.exitCode = 3;
    }
  }
}

await main();
