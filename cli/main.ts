#!/usr/bin/env node
/** argv becomes an exit code, and nothing else. */
import { isQuickCommand, runCommandLine } from "./run.js";
import { type Io, openIo, sayTrouble } from "./terminal.js";

function ioOf(argv: readonly string[]): Io {
  const colorIdx = argv.indexOf("--color");
  const inline = argv.find((word) => word.startsWith("--color="))?.slice("--color=".length);
  return openIo({
    isQuiet: argv.includes("--quiet"),
    isJson: argv.includes("--json"),
    colorFlag: inline ?? (colorIdx >= 0 ? (argv[colorIdx + 1] ?? "auto") : "auto"),
  });
}

const argv = process.argv.slice(2);
const io = ioOf(argv);
let stop: (() => Promise<void>) | undefined;
let isLeaving = false;

async function leave(code: number): Promise<void> {
  // wait until what was written is out: a pipe may take it slowly
  await Promise.all([process.stdout, process.stderr].map((s) => new Promise((done) => s.write("", done))));
  process.exit(code);
}

async function interrupt(): Promise<void> {
  if (isLeaving) return;
  isLeaving = true;
  await stop?.();
  process.exit(130);
}

async function run(): Promise<number> {
  if (isQuickCommand(argv)) return runCommandLine(argv, io);
  const { startCommand } = await import("./command-thread.js");
  const command = startCommand(argv, io);
  stop = command.stop;
  try {
    return await command.code;
  } catch (e) {
    if (isLeaving) return new Promise(() => undefined);
    return sayTrouble(e, argv.includes("--debug"), io);
  }
}

process.on("SIGINT", () => void interrupt());
process.on("SIGTERM", () => void interrupt());
for (const stream of [process.stdout, process.stderr])
  stream.on("error", (e: NodeJS.ErrnoException) => process.exit(e.code === "EPIPE" ? 0 : 3));
await leave(await run());
