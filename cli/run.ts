/** One command line from words to exit code, with all output through `Io`; main.ts gives it the real process, tests a captured one. */
import { PulgarError } from "../src/base/errors.js";
import { parseCommandLine } from "./arguments.js";
import { commandHelp, programHelp } from "./help.js";
import { type Io, printError } from "./terminal.js";

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

/** @returns exit code: 0 done, 1 check found differences, 2 could not, 3 a bug of ours */
export async function runCommandLine(argv: readonly string[], io: Io): Promise<number> {
  const wantsStack = argv.includes("--debug");
  try {
    return await dispatch(argv, io);
  } catch (e) {
    if (e instanceof PulgarError) {
      printError(io, e);
      if (wantsStack) io.err(`${e.stack ?? ""}\n${e.cause instanceof Error ? (e.cause.stack ?? "") : ""}\n`);
      return 2;
    }
    const text = e instanceof Error ? e.message : String(e);
    const hint = "Please report it with the command and the file; --debug shows where.";
    if (io.isJson) io.out(`${JSON.stringify({ error: { code: "bug", message: text, hint } })}\n`);
    else io.err(`error: a bug of ours: ${text}\nhint: ${hint}\n`);
    if (wantsStack && e instanceof Error) io.err(`${e.stack}\n`);
    return 3;
  }
}

async function dispatch(argv: readonly string[], io: Io): Promise<number> {
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
  const { command } = await LOADERS[parsed.row.name as keyof typeof LOADERS]();
  return command(parsed.args, parsed.flags, io);
}
