/** A command runs in a thread of its own, so that the process is free at every moment: Ctrl-C ends the longest step at once, and what the
 * command prints comes out as it is said. */
import type { Worker } from "node:worker_threads";
import { halt, prepareHalt } from "./halt.js";
import type { Io } from "./terminal.js";
import { startThread } from "./thread.js";

/** What the thread is given: argv, and what the streams are. */
export type CommandAsked = {
  argv: readonly string[];
  shows: Pick<Io, "isErrTerminal" | "isQuiet" | "hasColor" | "isJson">;
};

export type FromCommand =
  | { kind: "out"; text: string }
  | { kind: "err"; text: string }
  | { kind: "bytes"; bytes: Uint8Array }
  | { kind: "stopped" }
  | { kind: "done"; code: number };

const YOUNG_MB = 12; // V8 would let 48 MB of short-lived values pile up before it looks; with 12 it looks four times as often, a few ms each
const STOP_MS = 200; // a thread that is deep in a sum is not waited for: it writes nothing meanwhile

/** @property code resolves to the command's exit code @property stop removes what is half written and ends the thread */
export type CommandThread = { code: Promise<number>; stop: () => Promise<void> };

export function startCommand(argv: readonly string[], io: Io): CommandThread {
  const { isErrTerminal, isQuiet, hasColor, isJson } = io;
  const asked: CommandAsked = { argv, shows: { isErrTerminal, isQuiet, hasColor, isJson } };
  prepareHalt();
  const readsStdin = argv.includes("-");
  const worker = startThread(new URL("./command-worker.js", import.meta.url), {
    workerData: asked,
    stdin: readsStdin,
    resourceLimits: { maxYoungGenerationSizeMb: YOUNG_MB },
  });
  if (readsStdin && worker.stdin) process.stdin.pipe(worker.stdin);
  const code = new Promise<number>((done, fail) => {
    worker.on("message", (message: FromCommand) => {
      if (message.kind === "out") io.out(message.text);
      if (message.kind === "err") io.err(message.text);
      if (message.kind === "bytes") io.outBytes(message.bytes);
      if (message.kind === "done") done(message.code);
    });
    worker.on("error", fail);
    worker.on("exit", () => fail(new Error("the command's thread ended before it was done")));
  });
  return { code, stop: () => stopped(worker) };
}

async function stopped(worker: Worker): Promise<void> {
  const cleaned = new Promise<void>((done) => {
    worker.on("message", (message: FromCommand) => {
      if (message.kind === "stopped") done();
    });
    setTimeout(done, STOP_MS);
  });
  worker.postMessage("stop");
  await Promise.all([cleaned, halt()]);
}
