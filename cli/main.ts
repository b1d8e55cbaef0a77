#!/usr/bin/env node
/** argv becomes an exit code, and nothing else. */
import { removeUnfinished } from "./files.js";
import { runCommandLine } from "./run.js";
import { type Io, openIo } from "./terminal.js";

function ioOf(argv: readonly string[]): Io {
  const colorIdx = argv.indexOf("--color");
  const inline = argv.find((word) => word.startsWith("--color="))?.slice("--color=".length);
  return openIo({
    isQuiet: argv.includes("--quiet"),
    isJson: argv.includes("--json"),
    colorFlag: inline ?? (colorIdx >= 0 ? (argv[colorIdx + 1] ?? "auto") : "auto"),
  });
}

async function leave(code: number): Promise<never> {
  await removeUnfinished();
  // wait until what was written is out: a pipe may take it slowly
  await Promise.all([process.stdout, process.stderr].map((s) => new Promise((done) => s.write("", done))));
  process.exit(code);
}

const argv = process.argv.slice(2);
process.on("SIGINT", () => void leave(130));
process.on("SIGTERM", () => void leave(130));
for (const stream of [process.stdout, process.stderr])
  stream.on("error", (e: NodeJS.ErrnoException) => process.exit(e.code === "EPIPE" ? 0 : 3));
await leave(await runCommandLine(argv, ioOf(argv)));
