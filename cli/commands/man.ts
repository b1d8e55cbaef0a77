import type { Flags } from "../arguments.js";
import { manPage } from "../help.js";
import type { Io } from "../terminal.js";
import { packageVersion } from "../version.js";

/** Prints the manual page in roff. */
export async function command(_args: readonly string[], _flags: Flags, io: Io): Promise<number> {
  io.out(manPage(await packageVersion()));
  return 0;
}
