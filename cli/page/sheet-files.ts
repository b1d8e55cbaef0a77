/** The sheet on disk while it is reviewed: where it is saved, and whether somebody else has changed it. */
import { createHash } from "node:crypto";
import { readFile } from "node:fs/promises";
import { basename, dirname, join } from "node:path";
import { PulgarError } from "../../src/base/errors.js";
import { FIRST_LINE } from "../../src/sheet/header.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import { exists, writeWhole } from "../files.js";

export type SheetFiles = { text: string; json: string };

/** How a pair of files becomes a sheet and back; handed in, so that the page knows no format. */
export type SheetCodec = {
  /** The pair as one sheet, hand edits of the text marked; undefined when neither file is there. */
  readPair: (files: SheetFiles) => Promise<Sheet | undefined>;
  /** Any other kind of sheet. */
  readOther: (path: string) => Promise<Sheet>;
  toText: (sheet: Sheet) => string;
  toJson: (sheet: Sheet) => object;
};

/** Where a sheet of this name is kept: NAME.tab.txt and NAME.sheet.json, beside it. */
export function pairOf(path: string): SheetFiles & { isOne: "text" | "json" | "other" } {
  const name = basename(path);
  const isOne = /\.sheet\.json$/i.test(name) ? "json" : /\.tab\.txt$/i.test(name) ? "text" : "other";
  const stem = name
    .replace(/\.(sheet\.json|tab\.txt)$/i, "")
    .replace(isOne === "other" ? /\.[^.]{1,8}$/ : /$^/, "");
  const at = (ending: string): string => join(dirname(path), `${stem}${ending}`);
  return {
    text: isOne === "text" ? path : at(".tab.txt"),
    json: isOne === "json" ? path : at(".sheet.json"),
    isOne,
  };
}

/** Opens any sheet for review. What is not ours is never written over: it gets a pair of its own beside it.
 * @throws PulgarError for what cannot be read, or "exists" where the pair of a foreign sheet is taken */
export async function openPair(
  path: string,
  codec: SheetCodec,
): Promise<{ sheet: Sheet; files: SheetFiles }> {
  const { isOne, ...files } = pairOf(path);
  if (isOne === "json" || (isOne === "text" && ((await exists(files.json)) || (await isOurs(path))))) {
    const sheet = await codec.readPair(files);
    if (!sheet) throw new PulgarError("not-found", `${path}: no such file`, "Check the name and the folder.");
    return { sheet, files };
  }
  const sheet = await codec.readOther(path);
  const stem = files.text.replace(/\.tab\.txt$/i, "");
  const own =
    isOne === "text" ? { text: `${stem}.mended.tab.txt`, json: `${stem}.mended.sheet.json` } : files;
  for (const taken of [own.text, own.json])
    if (await exists(taken))
      throw new PulgarError(
        "exists",
        `${taken}: is there already; mends to ${basename(path)} would be saved there`,
        `Review ${basename(taken)} instead, or move it away.`,
      );
  return { sheet, files: own };
}

async function isOurs(path: string): Promise<boolean> {
  const text = await readFile(path, "utf8").catch(() => "");
  return text.replace(/^\uFEFF/, "").startsWith(FIRST_LINE);
}

/** What one file holds right now, as a fingerprint; "" when it is not there. */
async function printOf(path: string): Promise<string> {
  try {
    return createHash("sha256")
      .update(await readFile(path))
      .digest("hex");
  } catch (e) {
    if ((e as NodeJS.ErrnoException).code === "ENOENT") return "";
    throw e;
  }
}

export type Keeper = {
  files: SheetFiles;
  /** Writes both files. @returns false, writing nothing, when somebody else has changed one of them since */
  save: (sheet: Sheet) => Promise<boolean>;
  /** The sheet as it is on disk when somebody else has changed it since; undefined when nobody has. */
  changedOutside: () => Promise<Sheet | undefined>;
};

/** Keeps a sheet in its files. */
export async function keepSheet(files: SheetFiles, codec: SheetCodec): Promise<Keeper> {
  let prints = await readPrints();
  async function readPrints(): Promise<string> {
    return (await Promise.all([printOf(files.text), printOf(files.json)])).join(" ");
  }
  return {
    files,
    async save(sheet) {
      const now = await readPrints();
      if (now !== prints && now !== " ") return false;
      // text first: if we are killed between the two, the new text is read as edits by hand of the old evidence and nothing is lost
      await writeWhole(files.text, codec.toText(sheet), { force: true });
      await writeWhole(files.json, `${JSON.stringify(codec.toJson(sheet))}\n`, { force: true });
      prints = await readPrints();
      return true;
    },
    async changedOutside() {
      const now = await readPrints();
      if (now === prints) return undefined;
      const sheet = await codec.readPair(files);
      if (!sheet) return undefined; // both gone: the next save writes them again
      prints = now;
      return sheet;
    },
  };
}
