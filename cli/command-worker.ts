/** The thread that runs one command: see command-thread.ts. */
import { parentPort, workerData } from "node:worker_threads";
import type { CommandAsked, FromCommand } from "./command-thread.js";
import { removeUnfinished } from "./files.js";
import { runCommandLine } from "./run.js";

const { argv, shows } = workerData as CommandAsked;
const tell = (message: FromCommand): void => parentPort?.postMessage(message);

// The one thing that is ever said to it: stop. Between two steps of its work nothing lies half written; while it writes, it listens.
parentPort?.on("message", () => void removeUnfinished().then(() => tell({ kind: "stopped" })));

const code = await runCommandLine(argv, {
  ...shows,
  out: (text) => tell({ kind: "out", text }),
  err: (text) => tell({ kind: "err", text }),
  outBytes: (bytes) => tell({ kind: "bytes", bytes }),
});
tell({ kind: "done", code });
