/** `pulgar review`: opens the sheet and its recording, serves the page, waits until Ctrl-C. */
import { spawn } from "node:child_process";
import { basename, dirname } from "node:path";
import { PulgarError } from "../../src/base/errors.js";
import { applyEdit, type Edit } from "../../src/sheet/edit.js";
import { sheetFromJson, sheetToJson } from "../../src/sheet/json.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import { siblingEdits } from "../../src/sheet/siblings.js";
import { sheetToText } from "../../src/sheet/text.js";
import { type Flags, textFlag } from "../arguments.js";
import { withBarsAnew } from "../bars-anew.js";
import { wholeIn } from "../flag-values.js";
import { openHabits } from "../habits.js";
import { type MusicDeps, openDesk } from "../page/desk.js";
import { type Ear, earThread } from "../page/ear.js";
import { openHistory, stepsFile } from "../page/history.js";
import { openRecording } from "../page/recording.js";
import { redecideBars } from "../page/redecide.js";
import { type OpenPage, pageFolder, servePage } from "../page/server.js";
import { type Keeper, keepSheet, openPair, type SheetCodec } from "../page/sheet-files.js";
import { type OpenSound, soundThread } from "../page/sound.js";
import { watchFiles } from "../page/watch.js";
import { editedSheet } from "../sheet-pair.js";
import { takeOfSheet } from "../take-of-sheet.js";
import type { Io } from "../terminal.js";

export type ReviewArgs = {
  sheetPath: string;
  takePath?: string;
  port?: number;
  open?: boolean;
  isHabitless?: boolean;
};

export async function command(args: readonly string[], flags: Flags, io: Io): Promise<number> {
  const take = textFlag(flags, "take");
  const port = textFlag(flags, "port");
  return reviewCommand(
    {
      sheetPath: args[0] ?? "",
      ...(take === undefined ? {} : { takePath: take }),
      ...(port === undefined ? {} : { port: wholeIn(port, "--port", 1, 65535, "a port") }),
      open: flags.open === true,
      isHabitless: flags["no-habits"] === true,
    },
    io,
  );
}

/** Serves until the process is told to stop. @returns 0 when the server was closed */
export async function reviewCommand(args: ReviewArgs, io: Io): Promise<number> {
  const opened = await openReview(args);
  if (io.isJson)
    io.out(`${JSON.stringify({ format: "pulgar.review", version: 1, address: opened.page.address })}\n`);
  else io.out(`${opened.page.address}\n`);
  io.err(
    `Mends are saved to ${opened.files.text} and ${opened.files.json} as you make them. Ctrl-C ends the review.\n`,
  );
  if (args.open) openBrowser(opened.page.address, io);
  await new Promise(() => undefined); // main ends the process on Ctrl-C; every mend is saved before it is answered
  return 0;
}

const codecOf = (isHabitless: boolean): SheetCodec => ({
  readPair: editedSheet,
  readOther: async (path) => {
    const { openSheet } = await import("../open-sheet.js"); // only foreign sheets need every reader
    return (await openSheet(path, { "no-habits": isHabitless })).sheet;
  },
  toText: sheetToText,
  toJson: sheetToJson,
});

const music = {
  applyEdit: (sheet: Sheet, edit: Edit) =>
    edit.kind === "set-grid" ? withBarsAnew(applyEdit(sheet, edit)) : applyEdit(sheet, edit),
  siblingEdits,
};

/** Everything but the waiting: for the command and for tests.
 * @throws PulgarError where the sheet cannot be read or the port is taken */
export async function openReview(
  args: ReviewArgs,
  parts: {
    music?: Partial<MusicDeps>;
    ear?: Ear;
    openSound?: (path: string) => Promise<OpenSound>;
    pageDir?: string;
  } = {},
): Promise<{ page: OpenPage; files: { text: string; json: string }; close: () => Promise<void> }> {
  const pageDir = parts.pageDir ?? pageFolder();
  const codec = codecOf(args.isHabitless === true);
  const { sheet, files } = await openPair(args.sheetPath, codec);
  const takePath = await takeOfSheet(sheet, args.sheetPath, args.takePath);
  const habits = openHabits(dirname(files.json), args.isHabitless === true);
  const weights = await habits.weights();
  const redecide: MusicDeps["redecide"] = (s, bars, heard) => redecideBars(s, bars, heard, weights);
  const disk = await keepSheet(files, codec);
  const keeper: Keeper = {
    ...disk,
    save: async (next) => {
      const isSaved = await disk.save(next);
      if (isSaved)
        await habits.learn(basename(files.json), sheet, next).catch((e: unknown) => desk.trouble(e));
      return isSaved;
    },
  };
  const whyNone = sheet.take?.file
    ? `The recording ${sheet.take.file} does not lie beside the sheet. Name it with --take.`
    : "This sheet has no recording. Name one with --take.";
  const steps = stepsFile(files);
  const history = await openHistory(steps, { toJson: sheetToJson, fromJson: sheetFromJson }, sheet, () =>
    // in a turn of its own: the desk may not be there yet
    setImmediate(() =>
      desk.trouble(
        new PulgarError(
          "not-writable",
          `${basename(steps)}: cannot be written; undo works until this review ends, and the sheet itself is saved`,
          "Is the disk full, or the folder for reading only?",
        ),
      ),
    ),
  );
  const ear = parts.ear ?? earThread();
  const sound = soundThread();
  const deps = { open: parts.openSound ?? sound.open, listen: ear.listen };
  const recording = openRecording(takePath, whyNone, deps, (isHeard) => {
    desk.tellTake();
    if (isHeard) desk.recheck();
  });
  const desk = openDesk(
    sheet,
    keeper,
    recording,
    { ...music, redecide, check: ear.check, ...parts.music },
    history,
  );
  const page = await servePage({ desk, recording, pageDir, port: args.port ?? 0 });
  const unwatch = watchFiles(files, () => void desk.look().catch(desk.trouble));
  return {
    page,
    files,
    close: async () => {
      unwatch();
      await page.close();
      ear.end();
      sound.end();
    },
  };
}

function openBrowser(address: string, io: Io): void {
  const [program, ...rest] =
    process.platform === "darwin"
      ? ["open"]
      : process.platform === "win32"
        ? ["rundll32", "url.dll,FileProtocolHandler"]
        : ["xdg-open"];
  const child = spawn(program as string, [...rest, address], { stdio: "ignore", detached: true });
  child.on("error", () => io.err("No browser could be opened: open the address yourself.\n"));
  child.unref();
}
