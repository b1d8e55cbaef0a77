import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll } from "vitest";
import { runCommandLine } from "../../cli/run.js";
import type { Io } from "../../cli/terminal.js";

export type Ran = { code: number; out: string; err: string; bytes: Uint8Array[] };

/** Runs one command line in this process with its streams captured. */
export async function runCli(argv: readonly string[]): Promise<Ran> {
  const ran: Ran = { code: -1, out: "", err: "", bytes: [] };
  const io: Io = {
    out: (text) => {
      ran.out += text;
    },
    err: (text) => {
      ran.err += text;
    },
    outBytes: (bytes) => {
      ran.bytes.push(bytes);
    },
    isErrTerminal: false,
    isQuiet: argv.includes("--quiet"),
    hasColor: false,
    isJson: argv.includes("--json"),
  };
  ran.code = await runCommandLine(argv, io);
  return ran;
}

/** A folder of this test file's own, removed after it. */
export function tempFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), "pulgar-test-"));
  afterAll(() => rmSync(folder, { recursive: true, force: true }));
  return folder;
}
