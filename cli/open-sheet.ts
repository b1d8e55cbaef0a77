/** A SHEET of any kind becomes a Sheet: pitches without strings go through the fretboard search first, which leans as earlier
 * corrections in the sheet's folder have moved it. */
import { dirname } from "node:path";
import type { Finding } from "../src/base/finding.js";
import { sheetFromPitches } from "../src/pipeline.js";
import { readSheet } from "../src/sheet/read-any.js";
import type { Sheet } from "../src/sheet/sheet.js";
import type { Flags } from "./arguments.js";
import { readBytes, readStdin } from "./files.js";
import { openHabits } from "./habits.js";
import { instrumentFlags } from "./instrument.js";

/** @throws PulgarError for what is not a sheet, with line and column where there are any */
export async function openSheet(path: string, flags: Flags): Promise<{ sheet: Sheet; findings: Finding[] }> {
  const bytes = path === "-" ? await readStdin() : await readBytes(path);
  const read = readSheet(bytes, path);
  if (read.kind === "tab") return { sheet: read.sheet, findings: read.findings };
  const told = instrumentFlags(flags);
  const says = flags.tuning === undefined && read.openMidi ? { openMidi: read.openMidi } : {};
  const capo = flags.capo === undefined ? { capo: read.capo } : {};
  const isHabitless = path === "-" || flags["no-habits"] === true;
  const weights = await openHabits(dirname(path), isHabitless).weights();
  const options = { ...told, ...says, ...capo, ...(weights ? { weights } : {}) };
  return { sheet: sheetFromPitches(read, options), findings: read.findings };
}
