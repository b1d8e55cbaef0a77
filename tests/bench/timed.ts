import { spawn } from "node:child_process";
import { readFileSync } from "node:fs";
import { join } from "node:path";

/** The program as it is shipped: `npm run build` makes it. */
export const BUILT = join(import.meta.dirname, "../../dist");

export type Timed = { sec: number; cpuSec: number; peakMb: number; code: number | null };

/** Runs a program to its end; memory is that of the whole process with all its threads, as GNU time or /proc tells it. */
export async function timed(program: string, args: readonly string[]): Promise<Timed> {
  const started = performance.now();
  const child = spawn(program, [...args], { stdio: ["ignore", "ignore", "pipe"] });
  let peakKb = 0;
  let ticks = 0;
  const look = (): void => {
    try {
      const status = readFileSync(`/proc/${child.pid}/status`, "utf8");
      peakKb = Math.max(peakKb, Number(/VmHWM:\s+(\d+)/.exec(status)?.[1] ?? 0));
      const fields = readFileSync(`/proc/${child.pid}/stat`, "utf8").split(") ")[1]?.split(" ") ?? [];
      ticks = Number(fields[11]) + Number(fields[12]); // user and system time, in hundredths of a second (proc(5))
    } catch {
      // it has ended, or this system has no /proc: memory stays 0
    }
  };
  const watch = setInterval(look, 20);
  child.stderr.resume();
  const code = await new Promise<number | null>((done) => child.on("exit", done));
  const sec = (performance.now() - started) / 1000;
  clearInterval(watch);
  return { sec, cpuSec: ticks / 100, peakMb: peakKb / 1024, code };
}
