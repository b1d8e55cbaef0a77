import type { Flags } from "../arguments.js";
import { oneOf } from "../flag-values.js";
import { completionScript } from "../help.js";
import type { Io } from "../terminal.js";

/** Prints a completion script. */
export function command(args: readonly string[], _flags: Flags, io: Io): number {
  io.out(completionScript(oneOf(args[0] ?? "", "SHELL", ["bash", "zsh", "fish"])));
  return 0;
}
