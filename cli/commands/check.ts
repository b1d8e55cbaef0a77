/** `pulgar check`: is what is written what was played. Exit code 1 when it is not. */
import { basename } from "node:path";
import type { Take } from "../../src/audio/take.js";
import { checkSheet, sheetStands } from "../../src/check/compare.js";
import { fixSheet } from "../../src/check/fix.js";
import { reportToJson } from "../../src/check/json.js";
import { reportToText } from "../../src/check/print.js";
import { FEATURES } from "../../src/notes/features.js";
import { listen } from "../../src/notes/listen.js";
import type { Listening } from "../../src/notes/played-note.js";
import { sheetToText } from "../../src/sheet/text.js";
import { type Flags, textFlag } from "../arguments.js";
import { openTake } from "../decoder.js";
import { refuseOverwrite, writeWhole } from "../files.js";
import { numberIn } from "../flag-values.js";
import { letGo } from "../let-go.js";
import { openListener, runtimeNote } from "../listener-runtime.js";
import { openSheet } from "../open-sheet.js";
import { findingLines, type Io, progressLine } from "../terminal.js";

export async function command(args: readonly string[], flags: Flags, io: Io): Promise<number> {
  const [takePath = "", sheetPath = ""] = args;
  const tolerance = textFlag(flags, "tolerance");
  const timing =
    tolerance === undefined ? {} : { timingToleranceMs: numberIn(tolerance, "--tolerance", 5, 500, "ms") };
  const fixPath = textFlag(flags, "fix");
  const force = flags.force === true;
  if (fixPath !== undefined) await refuseOverwrite([fixPath], { force, inputs: [takePath, sheetPath] });
  const { sheet, findings } = await openSheet(sheetPath, flags);
  const progress = progressLine(io);
  progress.onProgress("reading", 0);
  const runtime = (textFlag(flags, "runtime") ?? "auto") as "auto" | "native" | "wasm";
  const hear = async (take: Take): Promise<Listening> => {
    const listener = await openListener({ runtime });
    if (runtime === "auto") io.err(runtimeNote(listener.runtime));
    return listen(take, listener.run, {
      card: listener.card,
      onProgress: progress.onProgress,
    }).finally(() => listener.close());
  };
  const listening = await hear(
    (await openTake(takePath, { isPartialOk: flags.partial === true, rateHz: FEATURES.sampleRateHz })).take,
  );
  letGo(); // of the sound: it is heard, and nobody here has given it a name
  progress.onProgress("checking", 0);
  const report = checkSheet(sheet, listening, timing);
  progress.done();
  if (io.isJson) io.out(`${JSON.stringify(reportToJson(report))}\n`);
  else {
    io.out(reportToText(report, sheet, { color: io.hasColor }));
    io.err(findingLines(findings));
  }
  if (fixPath !== undefined) {
    await writeWhole(fixPath, sheetToText(fixSheet(sheet, report)), { force });
    io.err(`wrote ${fixPath}, a corrected copy of ${basename(sheetPath)}\n`);
  }
  return sheetStands(report) ? 0 : 1;
}
