/** Where the recording of a sheet lies. A sheet may come from anybody: the name in it never leads out of the sheet's own folder. */
import { realpath } from "node:fs/promises";
import { basename, dirname, join } from "node:path";
import type { Sheet } from "../src/sheet/sheet.js";

/** @param named by the user: taken as it is
 * @returns that, or the file the sheet names where it lies beside the sheet; links that lead out of the folder are not followed */
export async function takeOfSheet(
  sheet: Pick<Sheet, "take">,
  sheetPath: string,
  named: string | undefined,
): Promise<string | undefined> {
  if (named !== undefined) return named;
  const file = sheet.take?.file;
  if (!file || file !== basename(file) || file.startsWith(".")) return undefined;
  try {
    const folder = await realpath(dirname(sheetPath));
    const path = await realpath(join(folder, file));
    return dirname(path) === folder ? path : undefined;
  } catch {
    return undefined; // not there
  }
}
