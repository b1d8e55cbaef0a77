/** `pulgar review`: opens the sheet and its recording, serves the page, waits until Ctrl-C. */
import { spawn } from "node:child_process";
import { checkSheet } from "../../src/check/compare.js";
import { listen } from "../../src/notes/listen.js";
import { applyEdit } from "../../src/sheet/edit.js";
import { sheetToJson } from "../../src/sheet/json.js";
import { siblingEdits } from "../../src/sheet/siblings.js";
import { sheetToText } from "../../src/sheet/text.js";
import { type Flags, textFlag } from "../arguments.js";
import { openTake } from "../decoder.js";
import { wholeIn } from "../flag-values.js";
import { openListener } from "../listener-runtime.js";
import { type MusicDeps, openDesk } from "../page/desk.js";
import { openRecording, type SoundDeps } from "../page/recording.js";
import { redecideBars } from "../page/redecide.js";
import { type OpenPage, pageFolder, servePage } from "../page/server.js";
import { keepSheet, openPair, type SheetCodec, takeBeside } from "../page/sheet-files.js";
import { watchFiles } from "../page/watch.js";
import { editedSheet } from "../sheet-pair.js";
import type { Io } from "../terminal.js";

export type ReviewArgs = { sheetPath: string; takePath?: string; port?: number; open?: boolean };

export async function command(args: readonly string[], flags: Flags, io: Io): Promise<number> {
  const take = textFlag(flags, "take");
  const port = textFlag(flags, "port");
  return reviewCommand(
    {
      sheetPath: args[0] ?? "",
      ...(take === undefined ? {} : { takePath: take }),
      ...(port === undefined ? {} : { port: wholeIn(port, "--port", 1, 65535, "a port") }),
      open: flags.open === true,
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

const codec: SheetCodec = {
  readPair: editedSheet,
  readOther: async (path) => {
    const { openSheet } = await import("../open-sheet.js"); // only foreign sheets need every reader
    return (await openSheet(path, {})).sheet;
  },
  toText: sheetToText,
  toJson: sheetToJson,
};

const music: MusicDeps = { applyEdit, siblingEdits, redecide: redecideBars, check: checkSheet };

const sound: SoundDeps = {
  openTake: (path) => openTake(path, { isPartialOk: true }),
  async listen(take, onShare) {
    const listener = await openListener();
    try {
      return await listen(take, listener.run, {
        card: listener.card,
        onProgress: (_stage, share) => onShare(share),
      });
    } finally {
      await listener.close();
    }
  },
};

/** Everything but the waiting: for the command and for tests.
 * @throws PulgarError where the sheet cannot be read or the port is taken */
export async function openReview(
  args: ReviewArgs,
  parts: { music?: Partial<MusicDeps>; sound?: Partial<SoundDeps>; pageDir?: string } = {},
): Promise<{ page: OpenPage; files: { text: string; json: string }; close: () => Promise<void> }> {
  const pageDir = parts.pageDir ?? pageFolder();
  const { sheet, files } = await openPair(args.sheetPath, codec);
  const takePath = args.takePath ?? (await takeBeside(args.sheetPath, sheet.take?.file));
  const keeper = await keepSheet(files, codec);
  const whyNone = sheet.take?.file
    ? `The recording ${sheet.take.file} does not lie beside the sheet. Name it with --take.`
    : "This sheet has no recording. Name one with --take.";
  const recording = openRecording(takePath, whyNone, { ...sound, ...parts.sound }, (isHeard) => {
    desk.tellTake();
    if (isHeard) desk.recheck();
  });
  const desk = openDesk(sheet, keeper, recording, { ...music, ...parts.music });
  const page = await servePage({ desk, recording, pageDir, port: args.port ?? 0 });
  const unwatch = watchFiles(files, () => void desk.look().catch(desk.trouble));
  return {
    page,
    files,
    close: async () => {
      unwatch();
      await page.close();
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
