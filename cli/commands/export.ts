/** `pulgar export`: one sheet, written as whatever the students open; several formats at once share one engraving. */
import { join } from "node:path";
import { PulgarError } from "../../src/base/errors.js";
import { handoutPages, toPdf, toSvg } from "../../src/export/handout.js";
import type { HandoutDeps, HandoutPage } from "../../src/export/handout-deps.js";
import { toMidi } from "../../src/export/midi.js";
import { toMusicXml, toMxl } from "../../src/export/musicxml.js";
import { encodeWav } from "../../src/export/wav.js";
import { renderSheet } from "../../src/play/strings.js";
import { foldRepeats } from "../../src/sheet/fold.js";
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
  const formats = wantedFormats(flags);
  const outPaths = pathsOf(formats, sheetPath, textFlag(flags, "out"));
  const force = flags.force === true;
  const toFiles = outPaths.filter((path) => path !== "-");
  await refuseOverwrite(toFiles, { force, inputs: [sheetPath] });
  const { sheet, findings } = await openSheet(sheetPath, flags);
  const writer = formatWriter(flags.repeats === true ? foldRepeats(sheet) : sheet, flags);
  for (const [idx, format] of formats.entries()) {
    const bytes = await writer(format);
    const path = outPaths[idx] ?? "-";
    if (path === "-") io.outBytes(bytes);
    else {
      await writeWhole(path, bytes, { force });
      io.err(`wrote ${path} (${bytes.length} bytes)\n`);
    }
  }
  if (io.isJson && toFiles.length > 0)
    io.out(`${JSON.stringify({ format: "pulgar.export", version: 1, files: toFiles })}\n`);
  io.err(findingLines(findings));
  return 0;
}

function wantedFormats(flags: Flags): Format[] {
  const said = textFlag(flags, "to");
  if (said === undefined)
    throw new PulgarError("bad-usage", "export needs --to", `Formats: ${Object.keys(ENDINGS).join(", ")}.`);
  const words = said.split(",");
  const all = Object.keys(ENDINGS) as Format[];
  return words.includes("all") ? all : all.filter((format) => words.includes(format));
}

/** One format: the file named, "-", or the sheet's own name here. Several: those names in the folder named, or here. */
function pathsOf(formats: readonly Format[], sheetPath: string, out: string | undefined): string[] {
  const [only] = formats;
  if (formats.length === 1 && only !== undefined && out !== undefined) return [out];
  if (out === "-")
    throw new PulgarError(
      "bad-usage",
      `--out - takes one format, found ${formats.length}`,
      "Name a folder for several formats, or export them one by one.",
    );
  const stem = stemOf(sheetPath).replace(/\.(tab|sheet)$/, "");
  return formats.map((format) => join(out ?? "", `${stem}.${ENDINGS[format]}`));
}

/** Writes the sheet in one format after the other; the handout is engraved once for all that print it. */
function formatWriter(sheet: Sheet, flags: Flags): (format: Format) => Promise<Uint8Array> {
  const encoder = new TextEncoder();
  const notation = flags.notation === true;
  const paper = (textFlag(flags, "paper") ?? "a4") as "a4" | "letter";
  let opened: { deps: HandoutDeps; pages: HandoutPage[] } | undefined;
  const handout = async (): Promise<NonNullable<typeof opened>> => {
    if (!opened) {
      const deps = await openHandout();
      opened = { deps, pages: handoutPages(sheet, deps, { paper, notation }) };
    }
    return opened;
  };
  return async (format) => {
    switch (format) {
      case "text":
        return encoder.encode(sheetToText(sheet));
      case "json":
        return encoder.encode(`${JSON.stringify(sheetToJson(sheet))}\n`);
      case "musicxml":
        return toMusicXml(sheet, { notationStaff: notation }).bytes;
      case "mxl":
        return toMxl(sheet, { notationStaff: notation }).bytes;
      case "midi":
        return toMidi(sheet).bytes;
      case "wav":
        return encodeWav([renderSheet(sheet, { sampleRateHz: WAV_RATE_HZ })], WAV_RATE_HZ);
      case "svg": {
        const { deps, pages } = await handout();
        return toSvg(sheet, pages, deps).bytes;
      }
      case "pdf": {
        const { deps, pages } = await handout();
        return (await toPdf(sheet, pages, deps)).bytes;
      }
    }
  };
}
