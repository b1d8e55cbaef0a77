import type { Finding } from "../base/finding.js";
import type { TextLine } from "./read-header.js";
import type { Sheet } from "./sheet.js";
export function sheetFromTab(_lines: readonly TextLine[]): { sheet: Sheet; findings: Finding[] } {
  throw new Error("todo");
}
