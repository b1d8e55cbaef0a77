// Seconds and memory of the program as it is shipped, on a study played over and over (long-take.ts), and beside two general tools on the
// same file in the same run: aubio's onset and pitch detection, and ffmpeg's decoding as the floor. `--minutes=N` another length,
// `--hours=N` adds a take of so many hours, `--runtime=wasm` without the native runtime. Needs `npm run build` first.
import { spawn, spawnSync } from "node:child_process";
import { existsSync, mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import type { BenchCase, Cell } from "./bench-case.js";
import { writeLongTake } from "./long-take.js";
import { BUILT, type Timed, timed } from "./timed.js";

const MAIN = join(BUILT, "cli/main.js");

/** Milliseconds from SIGINT to the end of a process that has said `word`. */
async function interruptMs(args: readonly string[], word: RegExp, afterMs: number): Promise<number> {
  const child = spawn(process.execPath, [MAIN, ...args], { stdio: ["ignore", "pipe", "pipe"] });
  const exited = new Promise((done) => child.on("exit", done));
  await new Promise<void>((done) => {
    const look = (part: Buffer): void => {
      if (word.test(part.toString())) done();
    };
    child.stdout.on("data", look);
    child.stderr.on("data", look);
    child.on("exit", () => done());
  });
  await new Promise((done) => setTimeout(done, afterMs));
  const started = performance.now();
  child.kill("SIGINT");
  await exited;
  return performance.now() - started;
}

const least = (runs: readonly number[]): number => Math.min(...runs);

const bench: BenchCase = {
  name: "speed",
  run: async ({ quick, flags, log }) => {
    if (!existsSync(MAIN)) throw new Error("dist/cli/main.js is not there: run npm run build first");
    const flagValue = (name: string, otherwise: number): number =>
      Number(flags.find((f) => f.startsWith(`--${name}=`))?.split("=")[1] ?? otherwise);
    const runtime = flags.includes("--runtime=wasm") ? ["--runtime", "wasm"] : [];
    const dir = mkdtempSync(join(tmpdir(), "pulgar-speed-"));
    const rows: Cell[][] = [];
    const notes: string[] = [];
    try {
      const measure = async (minutes: number, withOthers: boolean): Promise<void> => {
        const take = join(dir, "take.wav");
        const { sec, tempoBpm } = await writeLongTake(take, minutes * 60);
        const floor = await timed("ffmpeg", ["-v", "error", "-i", take, "-f", "null", "-"]).catch(
          () => undefined,
        );
        const row = (what: string, got: Timed): void => {
          log(`${what}, ${(sec / 60).toFixed(1)} min: ${got.sec.toFixed(2)} s`);
          if (got.code !== 0 && got.code !== 1) notes.push(`${what} ended with ${got.code}`);
          const toFloor = floor === undefined ? undefined : got.sec / floor.sec;
          rows.push([what, sec / 60, got.sec, sec / got.sec, got.cpuSec, got.peakMb, toFloor]);
        };
        const program = (...args: string[]): Promise<Timed> =>
          timed(process.execPath, [MAIN, ...args, "--quiet"]);
        const known = ["--tempo", String(tempoBpm), "--meter", "4/4", "--out", dir, "--force", "--afresh"];
        row("transcribe", await program("transcribe", take, ...known, ...runtime));
        row("check", await program("check", take, join(dir, "take.tab.txt"), ...runtime));
        row("key", await program("key", take));
        if (floor) row("ffmpeg decode", floor);
        if (!withOthers) return;
        for (const [what, name, ...args] of [
          ["aubio onset", "aubioonset", "-i", take],
          ["aubio pitch (yinfft)", "aubiopitch", "-i", take],
        ] as const) {
          if (spawnSync(name, ["--help"]).error) notes.push(`${name} is not here (Debian: aubio-tools)`);
          else row(what, await timed(name, args));
        }
      };
      await measure(quick ? 1 : flagValue("minutes", 10), true);
      const hours = flagValue("hours", 0);
      if (hours > 0) await measure(hours * 60, false);
      const take = join(dir, "take.wav");
      const helps: number[] = [];
      for (let k = 0; k < 5; k++) helps.push((await timed(process.execPath, [MAIN, "--help"])).sec * 1000);
      notes.push(
        `--help: ${least(helps).toFixed(0)} ms (least of five; a bare node -e 0 ${await bareNodeMs()} ms)`,
      );
      for (const [name, args, word, afterMs] of [
        ["reading", ["transcribe", take, "--out", join(dir, "x")], /reading/, 200],
        ["listening", ["transcribe", take, "--out", join(dir, "x")], /listening/, 1500],
        ["finding a key", ["key", take], /reading/, 1500],
      ] as const) {
        const runs = [];
        for (let k = 0; k < 3; k++) runs.push(await interruptMs(args, word, afterMs + 90 * k));
        notes.push(`Ctrl-C while ${name}: ${runs.map((ms) => ms.toFixed(0)).join(", ")} ms`);
      }
    } finally {
      rmSync(dir, { recursive: true, force: true });
    }
    return {
      title: "Speed and memory of the whole program",
      columns: [
        "what",
        "minutes",
        "seconds",
        "times real time",
        "processor s",
        "peak MB",
        "seconds to ffmpeg's",
      ],
      rows,
      notes,
    };
  },
};

async function bareNodeMs(): Promise<string> {
  const runs: number[] = [];
  for (let k = 0; k < 5; k++) runs.push((await timed(process.execPath, ["-e", "0"])).sec * 1000);
  return least(runs).toFixed(0);
}

export default bench;
