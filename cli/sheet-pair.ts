/** A sheet on disk is a pair: the text a hand edits and the JSON evidence beside it. */
import { PulgarError } from "../src/base/errors.js";
import { sheetFromJson } from "../src/sheet/json.js";
import { handEdits } from "../src/sheet/merge.js";
import { sheetFromText } from "../src/sheet/parse.js";
import type { Sheet } from "../src/sheet/sheet.js";
import { exists, readBytes } from "./files.js";

/** Text of a JSON file as a value. @throws PulgarError "bad-json" with the place */
function parseJson(text: string, fileName: string): unknown {
  try {
    return JSON.parse(text);
  } catch (e) {
    throw new PulgarError(
      "bad-json",
      `${fileName}: not JSON (${(e as Error).message})`,
      "Take the file from a backup, or draft the sheet again.",
      e,
    );
  }
}

const decode = (bytes: Uint8Array): string => new TextDecoder().decode(bytes);

/** The evidence as it was last written; undefined when there is none. */
export const writtenSheet = async (json: string): Promise<Sheet | undefined> =>
  (await exists(json)) ? sheetFromJson(parseJson(decode(await readBytes(json)), json)) : undefined;

/** The sheet that lies in a folder already, with what a hand changed in its text marked as such; undefined when there is none.
 * @throws PulgarError when one of the two is there and cannot be read: an edited sheet is never thrown away unread */
export async function editedSheet(files: { text: string; json: string }): Promise<Sheet | undefined> {
  const [hasText, hasJson] = await Promise.all([exists(files.text), exists(files.json)]);
  if (!hasText && !hasJson) return undefined;
  const before = await writtenSheet(files.json);
  const edited = hasText ? sheetFromText(decode(await readBytes(files.text))).sheet : undefined;
  if (before && edited) return handEdits(before, edited);
  return before ?? edited;
}
