/** `pulgar export`: one sheet, written as whatever the students open. */
import { PulgarError } from "../../src/base/errors.js";
import type { ExportFile } from "../../src/export/export-file.js";
import { toPdf, toSvg } from "../../src/export/handout.js";
import { toMidi } from "../../src/export/midi.js";
import { toMusicXml, toMxl } from "../../src/export/musicxml.js";
import { encodeWav } from "../../src/export/wav.js";
import { renderSheet } from "../../src/play/strings.js";
import { sheetToJson } from "../../src/sheet/json.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import { sheetToText } from "../../src/sheet/text.js";
import { type Flags, textFlag } from "../arguments.js";
import { openHandout } from "../engraver.js";
import { refuseOverwrite, stemOf, writeWhole } from "../files.js";
import { openSheet } from "../open-sheet.js";
import { findingLines, type Io } from "../terminal.js";

const ENDINGS = {
  text: "tab.txt",
  musicxml: "musicxml",
  mxl: "mxl",
  midi: "mid",
  svg: "svg",
  pdf: "pdf",
  wav: "wav",
  json: "sheet.json",
} as const;
type Format = keyof typeof ENDINGS;

const WAV_RATE_HZ = 44_100;

export async function command(args: readonly string[], flags: Flags, io: Io): Promise<number> {
  const sheetPath = args[0] ?? "";
  const format = textFlag(flags, "to") as Format | undefined;
  if (format === undefined)
    throw new PulgarError("bad-usage", "export needs --to", `Formats: ${Object.keys(ENDINGS).join(", ")}.`);
  const outPath =
    textFlag(flags, "out") ?? `${stemOf(sheetPath).replace(/\.(tab|sheet)$/, "")}.${ENDINGS[format]}`;
  const force = flags.force === true;
  if (outPath !== "-") await refuseOverwrite([outPath], { force, inputs: [sheetPath] });
  const { sheet, findings } = await openSheet(sheetPath, flags);
  const file = await exported(sheet, format, flags);
  if (outPath === "-") io.outBytes(file.bytes);
  else {
    await writeWhole(outPath, file.bytes, { force });
    io.err(`wrote ${outPath} (${file.bytes.length} bytes)\n`);
  }
  io.err(findingLines(findings));
  return 0;
}

async function exported(sheet: Sheet, format: Format, flags: Flags): Promise<ExportFile> {
  const encoder = new TextEncoder();
  const options = {
    paper: (textFlag(flags, "paper") ?? "a4") as "a4" | "letter",
    notation: flags.notation === true,
  };
  const plain = (text: string, mediaType: string): ExportFile => ({
    fileName: "",
    mediaType,
    bytes: encoder.encode(text),
  });
  switch (format) {
    case "text":
      return plain(sheetToText(sheet), "text/plain");
    case "json":
      return plain(`${JSON.stringify(sheetToJson(sheet))}\n`, "application/json");
    case "musicxml":
      return toMusicXml(sheet, { notationStaff: options.notation });
    case "mxl":
      return toMxl(sheet, { notationStaff: options.notation });
    case "midi":
      return toMidi(sheet);
    case "wav":
      return {
        fileName: "",
        mediaType: "audio/wav",
        bytes: encodeWav([renderSheet(sheet, { sampleRateHz: WAV_RATE_HZ })], WAV_RATE_HZ),
      };
    case "svg":
      return toSvg(sheet, await openHandout(), options);
    case "pdf":
      return toPdf(sheet, await openHandout(), options);
  }
}
