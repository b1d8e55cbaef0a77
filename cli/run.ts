/** One command line from words to exit code, with all output through `Io`; main.ts gives it the real process, tests a captured one. */
import { parseCommandLine } from "./arguments.js";
import { commandHelp, programHelp } from "./help.js";
import { type Io, sayTrouble } from "./terminal.js";

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
  try {
    return await dispatch(argv, io);
  } catch (e) {
    return sayTrouble(e, argv.includes("--debug"), io);
  }
}

const QUICK_COMMANDS: readonly string[] = ["completion", "man"] satisfies (keyof typeof LOADERS)[];

/** Is it done in a moment: help, version, a command line that is refused? */
export function isQuickCommand(argv: readonly string[]): boolean {
  try {
    const parsed = parseCommandLine(argv);
    return parsed.kind !== "run" || QUICK_COMMANDS.includes(parsed.row.name);
  } catch {
    return true; // refused: it is parsed once more where the refusal is said
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
