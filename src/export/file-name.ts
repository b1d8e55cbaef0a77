import type { Sheet } from "../sheet/sheet.js";

/** File name for an export: the title in lower case with hyphens, letters and digits of any script kept; "sheet" without a title. */
export function fileNameOf(sheet: Sheet, extension: string): string {
  const stem = sheet.title
    .normalize("NFC")
    .toLowerCase()
    .replace(/♯/g, "-sharp")
    .replace(/♭/g, "-flat")
    .replace(/[^\p{L}\p{N}]+/gu, "-")
    .replace(/^-+|-+$/g, "")
    .slice(0, 80);
  return `${stem || "sheet"}.${extension}`;
}
