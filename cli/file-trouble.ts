import { PulgarError } from "../src/base/errors.js";

/** A failed file call in the words of the user. */
export function fileTrouble(e: unknown, path: string): PulgarError {
  const code = (e as NodeJS.ErrnoException).code;
  if (code === "ENOENT" || code === "ENOTDIR")
    return new PulgarError("not-found", `${path}: no such file`, "Check the name and the folder.", e);
  if (code === "EACCES" || code === "EPERM")
    return new PulgarError(
      "not-readable",
      `${path}: may not be read`,
      "Change its permissions, or copy it to a folder of yours.",
      e,
    );
  if (code === "ENAMETOOLONG")
    return new PulgarError(
      "not-found",
      `${path.slice(0, 60)}…: the name is too long`,
      "Use a shorter name.",
      e,
    );
  return new PulgarError(
    "not-readable",
    `${path}: could not be read (${code ?? String(e)})`,
    "Check the disk and try again.",
    e,
  );
}
