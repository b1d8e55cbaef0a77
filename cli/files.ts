/** Reading and safe writing: nothing is overwritten unasked, and a file is whole or it is not there. */
import { randomBytes } from "node:crypto";
import { link, mkdir, open, readFile, realpath, rename, stat, unlink } from "node:fs/promises";
import { basename, dirname, join, resolve } from "node:path";
import { PulgarError } from "../src/base/errors.js";
import { fileTrouble } from "./file-trouble.js";

const SHEET_LIMIT_LEN = 64 * 1024 * 1024; // a sheet of a two-hour take is under 20 MB

/** Temporary files of this run, removed if it is interrupted. */
const unfinished = new Set<string>();

/** Removes what an interrupted run leaves half written. */
export async function removeUnfinished(): Promise<void> {
  await Promise.all([...unfinished].map((path) => unlink(path).catch(() => undefined)));
}

/** Reads a whole file, up to 64 MiB. @throws PulgarError "not-found", "is-folder", "empty-file", "too-large", "not-readable" */
export async function readBytes(path: string): Promise<Uint8Array> {
  try {
    const info = await stat(path);
    if (info.isDirectory())
      throw new PulgarError("is-folder", `${path}: is a folder; need a file`, "Name a file in it.");
    if (info.size === 0)
      throw new PulgarError("empty-file", `${path}: empty (0 bytes)`, "Save or export it again.");
    if (info.size > SHEET_LIMIT_LEN)
      throw new PulgarError(
        "too-large",
        `${path}: ${info.size} bytes; need at most ${SHEET_LIMIT_LEN}`,
        "Is this the right file?",
      );
    return new Uint8Array(await readFile(path));
  } catch (e) {
    throw e instanceof PulgarError ? e : fileTrouble(e, path);
  }
}

/** Reads standard input whole. */
export async function readStdin(): Promise<Uint8Array> {
  const parts: Buffer[] = [];
  let len = 0;
  for await (const part of process.stdin as AsyncIterable<Buffer>) {
    len += part.length;
    if (len > SHEET_LIMIT_LEN)
      throw new PulgarError(
        "too-large",
        `standard input: more than ${SHEET_LIMIT_LEN} bytes`,
        "Give a file.",
      );
    parts.push(part);
  }
  return new Uint8Array(Buffer.concat(parts));
}

export const exists = (path: string): Promise<boolean> =>
  stat(path).then(
    () => true,
    () => false,
  );

async function samePlace(a: string, b: string): Promise<boolean> {
  try {
    return (await realpath(a)) === (await realpath(b));
  } catch {
    return resolve(a) === resolve(b);
  }
}

/** Refuses before any work is done what could not be written after it.
 * @param inputs files that are never overwritten, even with force
 * @throws PulgarError "exists", "not-writable" */
export async function refuseOverwrite(
  paths: readonly string[],
  options: { force: boolean; inputs?: readonly string[] },
): Promise<void> {
  for (const path of paths) {
    for (const input of options.inputs ?? [])
      if (await samePlace(path, input))
        throw new PulgarError("exists", `${path}: is the input itself`, "Choose another name with --out.");
    if (!options.force && (await exists(path))) throw isThere(path);
  }
}

/** Writes beside the target, then renames: the old file or the new one is whole at every moment.
 * @throws PulgarError "exists" without force, "not-writable" for a full disk or a read-only folder */
export const writeWhole = (
  path: string,
  bytes: Uint8Array | string,
  options: { force?: boolean } = {},
): Promise<void> => writeTogether([{ path, bytes }], options);

/** Files that belong together: all are written out before the first takes its place, so that a full disk leaves the old ones.
 * @throws as writeWhole */
export async function writeTogether(
  files: readonly { path: string; bytes: Uint8Array | string }[],
  options: { force?: boolean } = {},
): Promise<void> {
  if (!options.force) for (const { path } of files) if (await exists(path)) throw isThere(path);
  const parts = files.map(({ path }) => partOf(path));
  try {
    for (const [k, { path, bytes }] of files.entries())
      await orNotWritable(path, () => writeOut(parts[k] ?? "", bytes));
    for (const [k, { path }] of files.entries())
      await orNotWritable(path, () => putInPlace(parts[k] ?? "", path, options.force === true));
  } finally {
    for (const part of parts) {
      await unlink(part).catch(() => undefined); // what was put in place is no longer there
      unfinished.delete(part);
    }
  }
}

const partOf = (path: string): string =>
  join(dirname(path), `.${shortened(basename(path), 120)}.${randomBytes(6).toString("hex")}.part`);

async function writeOut(part: string, bytes: Uint8Array | string): Promise<void> {
  unfinished.add(part);
  await mkdir(dirname(part), { recursive: true });
  const file = await open(part, "wx");
  try {
    await file.writeFile(bytes);
    await file.sync();
  } finally {
    await file.close();
  }
}

/** Without force by a hard link, which fails where the name is taken: of two runs at once one is refused, not overwritten. */
async function putInPlace(part: string, path: string, force: boolean): Promise<void> {
  if (!force) {
    try {
      await link(part, path);
      return;
    } catch (e) {
      if ((e as NodeJS.ErrnoException).code === "EEXIST") throw isThere(path);
      // a file system without hard links: the name was free a moment ago
    }
  }
  await rename(part, path);
}

async function orNotWritable(path: string, work: () => Promise<void>): Promise<void> {
  try {
    await work();
  } catch (e) {
    if (e instanceof PulgarError) throw e;
    throw new PulgarError(
      "not-writable",
      `${path}: could not be written (${(e as NodeJS.ErrnoException).code ?? String(e)})`,
      "Check the folder's permissions and the space on the disk.",
      e,
    );
  }
}

const isThere = (path: string): PulgarError =>
  new PulgarError(
    "exists",
    `${path}: is there already`,
    "Choose another place with --out, or add --force to replace it.",
  );

/** The beginning of a name, cut between characters. @param mostBytes in UTF-8: most file systems take 255 for a whole name */
function shortened(name: string, mostBytes: number): string {
  let kept = "";
  let len = 0;
  for (const character of name) {
    len += Buffer.byteLength(character);
    if (len > mostBytes) break;
    kept += character;
  }
  return kept;
}

/** A name fit for any file system: the last part of a path without its ending. */
export function stemOf(path: string): string {
  const stem = basename(path).replace(/\.[^.]{1,8}$/, "");
  return stem.length > 0 ? shortened(stem, 120) : "take";
}
