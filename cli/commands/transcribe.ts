/** `pulgar transcribe`: reads takes, drafts sheets, writes them, says what was found. */
import { readdir, stat } from "node:fs/promises";
import { basename, dirname, extname, join } from "node:path";
import { PulgarError } from "../../src/base/errors.js";
import type { Finding } from "../../src/base/finding.js";
import type { HandWeights } from "../../src/hands/cost-table.js";
import { FEATURES } from "../../src/notes/features.js";
import { type DraftDeps, type DraftOptions, draftSheet, withPattern } from "../../src/pipeline.js";
import { sheetToJson } from "../../src/sheet/json.js";
import { locksOf } from "../../src/sheet/locks.js";
import { mergeHand } from "../../src/sheet/merge.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import { sheetToText } from "../../src/sheet/text.js";
import { type Flags, textFlag } from "../arguments.js";
import { withBarsAnew } from "../bars-anew.js";
import { openTake } from "../decoder.js";
import { fileTrouble } from "../file-trouble.js";
import { refuseOverwrite, stemOf, writeTogether } from "../files.js";
import { numberIn, parseMeter, tempoOf, wholeIn } from "../flag-values.js";
import { openHabits } from "../habits.js";
import { instrumentFlags } from "../instrument.js";
import { letGo } from "../let-go.js";
import { type OpenListener, openListener, runtimeNote } from "../listener-runtime.js";
import { editedSheet, writtenSheet } from "../sheet-pair.js";
import { draftSummary } from "../summary.js";
import { type Io, progressLine, sayTrouble } from "../terminal.js";

const TAKE_ENDINGS = new Set(
  ".wav .flac .mp3 .m4a .aac .ogg .oga .opus .aiff .aif .caf .mp4 .m4v .mov .mkv .webm .wma .amr".split(" "),
);

export async function command(args: readonly string[], flags: Flags, io: Io): Promise<number> {
  const options = draftOptions(flags);
  const paths = await takePaths(args);
  const title = textFlag(flags, "title");
  if (paths.length > 1 && title !== undefined)
    throw new PulgarError("bad-usage", "--title with several takes", "Give each its title in the sheet.");
  if (paths.length > 1 && io.isJson)
    throw new PulgarError(
      "bad-usage",
      "--json with several takes: one document is printed",
      "Run it once for each take.",
    );
  const outDir = textFlag(flags, "out") ?? ".";
  refuseSameName(paths, outDir);
  const wanted = (textFlag(flags, "runtime") ?? "auto") as "auto" | "native" | "wasm";
  let listener: OpenListener | undefined;
  const ears = async (): Promise<OpenListener> => {
    if (listener) return listener;
    listener = await openListener({ runtime: wanted });
    if (wanted === "auto") io.err(runtimeNote(listener.runtime));
    return listener;
  };
  let failures = 0;
  let code = 0;
  try {
    for (const [k, path] of paths.entries()) {
      try {
        await refuseToWrite(path, outDir, flags);
        const label = paths.length > 1 ? `${k + 1}/${paths.length} ${basename(path)}` : "";
        await transcribeOne(path, outDir, options, flags, ears, io, label);
      } catch (e) {
        if (paths.length === 1) throw e;
        failures++; // one failure does not stop the rest
        code = Math.max(code, sayTrouble(e, flags.debug === true, io));
      }
    }
  } finally {
    await listener?.close();
  }
  if (failures > 0) io.err(`${failures} of ${paths.length} takes could not be drafted.\n`);
  return code;
}

const refuseToWrite = (path: string, outDir: string, flags: Flags): Promise<void> =>
  refuseOverwrite(Object.values(filesOf(path, outDir)), { force: flags.force === true, inputs: [path] });

/** Two takes that differ only in folder or ending would be written over each other. */
function refuseSameName(paths: readonly string[], outDir: string): void {
  const seen = new Map<string, string>();
  for (const path of paths) {
    const { text } = filesOf(path, outDir);
    const other = seen.get(text);
    if (other !== undefined)
      throw new PulgarError(
        "bad-usage",
        `${other} and ${path}: both would be written to ${text}`,
        "Run it once for each, with another --out.",
      );
    seen.set(text, path);
  }
}

function draftOptions(flags: Flags): Omit<DraftOptions, "fileName"> {
  const meterText = textFlag(flags, "meter");
  const meter = meterText === undefined ? undefined : parseMeter(meterText);
  const tempoBpm = tempoOf(
    { tempo: textFlag(flags, "tempo"), dottedTempo: textFlag(flags, "dotted-tempo") },
    meter,
  );
  const start = textFlag(flags, "start");
  const countIn = textFlag(flags, "count-in");
  const feel = textFlag(flags, "feel") as "straight" | "swing" | undefined;
  const grid = textFlag(flags, "grid");
  return {
    ...instrumentFlags(flags),
    ...(meter ? { meter } : {}),
    ...(tempoBpm === undefined ? {} : { tempoBpm }),
    ...(start === undefined ? {} : { startSec: numberIn(start, "--start", 0, 4 * 3600, "seconds") }),
    ...(countIn === undefined ? {} : { countInBeats: wholeIn(countIn, "--count-in", 0, 32, "beats") }),
    ...(feel === undefined ? {} : { feel }),
    ...(grid === undefined ? {} : { gridDivision: Number(grid) as 8 | 12 | 16 }),
  };
}

async function takePaths(args: readonly string[]): Promise<string[]> {
  const paths: string[] = [];
  for (const arg of args) {
    let isFolder = false;
    try {
      isFolder = (await stat(arg)).isDirectory();
    } catch (e) {
      if (args.length === 1) throw fileTrouble(e, arg);
    }
    if (!isFolder) paths.push(arg);
    else {
      const names = await readdir(arg).catch((e: unknown) => {
        throw fileTrouble(e, arg);
      });
      const takes = names.filter((name) => TAKE_ENDINGS.has(extname(name).toLowerCase())).sort();
      if (takes.length === 0)
        throw new PulgarError(
          "not-found",
          `${arg}: no recordings in this folder`,
          `Looked for ${[...TAKE_ENDINGS].join(" ")}.`,
        );
      paths.push(...takes.map((name) => join(arg, name)));
    }
  }
  return paths;
}

const filesOf = (path: string, outDir: string): { text: string; json: string } => ({
  text: join(outDir, `${stemOf(path)}.tab.txt`),
  json: join(outDir, `${stemOf(path)}.sheet.json`),
});

async function transcribeOne(
  path: string,
  outDir: string,
  options: Omit<DraftOptions, "fileName">,
  flags: Flags,
  ears: () => Promise<OpenListener>,
  io: Io,
  label: string,
): Promise<void> {
  const progress = progressLine(io, label);
  progress.onProgress("reading", 0);
  const files = filesOf(path, outDir);
  const edited = flags.afresh === true ? undefined : await editedSheet(files);
  const weights = await learntWeights(files, edited, flags, io);
  const deps = async (): Promise<DraftDeps> => {
    const { run, card } = await ears();
    return { runNet: run, card, onProgress: progress.onProgress, onHeard: letGo };
  };
  const drafted = await draftSheet(
    // no name is given to the take: what is waited for would hold it to the end
    (await openTake(path, { isPartialOk: flags.partial === true, rateHz: FEATURES.sampleRateHz })).take,
    {
      ...options,
      title: textFlag(flags, "title") ?? edited?.title ?? titleOf(path),
      fileName: basename(path),
      ...(edited ? { locks: locksOf(edited) } : {}),
      ...(weights ? { weights } : {}),
    },
    await deps(),
  );
  let sheet: Sheet = drafted.sheet;
  let changes: Finding[] = [];
  let keptCount = 0;
  if (edited) {
    const merged = mergeHand(drafted.sheet, edited);
    sheet = withPattern(withBarsAnew(merged.sheet));
    changes = merged.changed;
    keptCount = merged.kept;
  }
  await writeTogether(
    [
      { path: files.text, bytes: sheetToText(sheet) },
      { path: files.json, bytes: `${JSON.stringify(sheetToJson(sheet))}\n` },
    ],
    { force: flags.force === true },
  );
  progress.done();
  if (io.isJson) io.out(`${JSON.stringify(sheetToJson(sheet))}\n`);
  else io.out(draftSummary(sheet, { label, keptCount, changes }));
  io.err(`wrote ${files.text} and ${files.json}\n`);
}

/** Weights of the fretboard search as the corrections in this folder have moved them, those in this sheet's text included. */
async function learntWeights(
  files: { text: string; json: string },
  edited: Sheet | undefined,
  flags: Flags,
  io: Io,
): Promise<HandWeights | undefined> {
  const habits = openHabits(dirname(files.json), flags["no-habits"] === true);
  const name = basename(files.json);
  if (!edited) await habits.forget(name);
  const before = edited && (await writtenSheet(files.json));
  const count = before ? await habits.learn(name, before, edited) : 0;
  if (count > 0)
    io.err(`strings and fingers lean towards ${count} more of your corrections, noted in ${habits.path}\n`);
  return habits.weights();
}

function titleOf(path: string): string {
  const words = stemOf(path).replace(/[-_]+/g, " ").trim();
  return words.length > 0 ? words.charAt(0).toUpperCase() + words.slice(1) : "Untitled study";
}
