import { existsSync, readFileSync } from "node:fs";

/** Peak memory of this program in MB: the system's own mark, where it keeps one. maxRSS alone would hold that of the bench which started
 * the program (getrusage(2): kept across exec). */
export function peakMb(): number {
  const status = existsSync("/proc/self/status") ? readFileSync("/proc/self/status", "utf8") : "";
  return Number(/VmHWM:\s+(\d+)/.exec(status)?.[1] ?? process.resourceUsage().maxRSS) / 1024;
}
