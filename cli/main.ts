#!/usr/bin/env node
/** argv becomes an exit code, and nothing else. */
import { PulgarError } from "../src/base/errors.js";
import { type Parsed, parseCommandLine } from "./arguments.js";
import { removeUnfinished } from "./files.js";
import { commandHelp, programHelp } from "./help.js";
import { type Io, openIo, printError } from "./terminal.js";

const LOADERS = {
  transcribe: () => import("./commands/transcribe.js"),
  check: () => import("./commands/check.js"),
  key: () => import("./commands/key.js"),
  review: () => import("./commands/review.js"),
  export: () => import("./commands/export.js"),
  practice: () => import("./commands/practice.js"),
  completion: () => import("./commands/completion.js"),
  man: () => import("./commands/man.js"),
} as const;

async function run(argv: readonly string[], io: Io): Promise<number> {
  const parsed = parseCommandLine(argv);
  if (parsed.kind === "help") {
    io.out(parsed.row ? commandHelp(parsed.row, parsed.isLong) : programHelp(parsed.isLong));
    return 0;
  }
  if (parsed.kind === "version") {
    const { versionText } = await import("./version.js");
    io.out(await versionText());
    return 0;
  }
  return runCommand(parsed, io);
}

async function runCommand(parsed: Parsed & { kind: "run" }, io: Io): Promise<number> {
  const load = LOADERS[parsed.row.name as keyof typeof LOADERS];
  const { command } = await load();
  return command(parsed.args, parsed.flags, io);
}

function ioOf(argv: readonly string[]): Io {
  const colorIdx = argv.indexOf("--color");
  const inline = argv.find((word) => word.startsWith("--color="))?.slice(8);
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

async function main(argv: readonly string[]): Promise<void> {
  const io = ioOf(argv);
  process.on("SIGINT", () => void leave(130));
  process.on("SIGTERM", () => void leave(130));
  for (const stream of [process.stdout, process.stderr])
    stream.on("error", (e: NodeJS.ErrnoException) => process.exit(e.code === "EPIPE" ? 0 : 3));
  try {
    await leave(await run(argv, io));
  } catch (e) {
    if (e instanceof PulgarError) {
      printError(io, e);
      if (argv.includes("--debug"))
        io.err(`${e.stack ?? ""}\n${e.cause instanceof Error ? (e.cause.stack ?? "") : ""}\n`);
      await leave(2);
    }
    const text = e instanceof Error ? e.message : String(e);
    if (io.isJson)
      io.out(`${JSON.stringify({ error: { code: "bug", message: text, hint: "Please report it." } })}\n`);
    else
      io.err(
        `error: a bug of ours: ${text}\nhint: please report it with the command and the file; --debug shows where.\n`,
      );
    if (argv.includes("--debug") && e instanceof Error) io.err(`${e.stack}\n`);
    await leave(3);
  }
}

await main(process.argv.slice(2));
