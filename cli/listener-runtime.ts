/** Opens the listener's weights in a runtime: native first, wasm where there is no native binary; in threads that hear stretches of a take side by side. */
import { createHash } from "node:crypto";
import { readFile } from "node:fs/promises";
import { availableParallelism } from "node:os";
import { join } from "node:path";
import { PulgarError } from "../src/base/errors.js";
import { type ListenerCard, parseCard } from "../src/notes/card.js";
import { makeEars } from "../src/notes/hear.js";
import type { BlockHeard, RunNet } from "../src/notes/played-note.js";
import { letGoNowAndThen } from "./let-go.js";
import { openNet, type Runtime } from "./net.js";
import { openThread } from "./thread.js";
import { packageRoot } from "./version.js";

export type OpenListener = {
  run: RunNet;
  card: ListenerCard;
  runtime: Runtime;
  close: () => Promise<void>;
};

const MOST_THREADS = 2; // each holds 80 MB

/** @param options.threads how many work side by side; 0: this thread does, as tests and questions about the runtime want it
 * @throws PulgarError "bad-model" when weights and card do not belong together, "no-runtime" when none can be opened */
export async function openListener(
  options: { folder?: string; runtime?: "auto" | Runtime; threads?: number } = {},
): Promise<OpenListener> {
  const folder = options.folder ?? join(packageRoot(), "models", "listener");
  const { card, bytes } = await readModel(folder);
  const wanted = options.runtime ?? "auto";
  const threads = options.threads ?? Math.min(MOST_THREADS, availableParallelism());
  let trouble: unknown;
  for (const runtime of wanted === "auto" ? (["native", "wasm"] as const) : [wanted]) {
    try {
      const open =
        threads === 0 ? await openHere(runtime, bytes, card) : await openPool(runtime, bytes, card, threads);
      return { ...open, card, runtime };
    } catch (e) {
      trouble = e;
    }
  }
  throw new PulgarError(
    "no-runtime",
    `the listener cannot run here (${trouble instanceof Error ? trouble.message : String(trouble)})`,
    "Install pulgar again with npm; onnxruntime-node or onnxruntime-web must be there.",
    trouble,
  );
}

/** What is lost where the native runtime is missing; nothing to say where it is there. */
export const runtimeNote = (runtime: Runtime): string =>
  runtime === "native"
    ? ""
    : "note: the native runtime (onnxruntime-node) is missing: listening takes about five times as long.\n";

async function readModel(folder: string): Promise<{ card: ListenerCard; bytes: Uint8Array }> {
  try {
    const card = parseCard(JSON.parse(await readFile(join(folder, "card.json"), "utf8")));
    const bytes = new Uint8Array(await readFile(join(folder, card.file)));
    const found = createHash("sha256").update(bytes).digest("hex");
    if (found !== card.sha256)
      throw new PulgarError(
        "bad-model",
        `${card.file}: sha256 ${found.slice(0, 12)}…; the card wants ${card.sha256.slice(0, 12)}…`,
        "Install pulgar again: the weights are damaged.",
      );
    return { card, bytes };
  } catch (e) {
    if (e instanceof PulgarError) throw e;
    throw new PulgarError(
      "bad-model",
      `the listener's files cannot be read (${e instanceof Error ? e.message : String(e)})`,
      "Install pulgar again.",
      e,
    );
  }
}

type Opened = Pick<OpenListener, "run" | "close">;

async function openHere(runtime: Runtime, bytes: Uint8Array, card: ListenerCard): Promise<Opened> {
  const net = await openNet(runtime, bytes);
  return {
    run: makeEars((features, frameCount) => net.run(features, [frameCount, card.frameLen]), card),
    close: net.close,
  };
}

/** Sessions in threads of their own; a stretch goes to the one that has least to do, the first of equals. */
async function openPool(
  runtime: Runtime,
  bytes: Uint8Array,
  card: ListenerCard,
  count: number,
): Promise<Opened> {
  const pool = Array.from({ length: count }, () => ({
    thread: openThread(new URL("./net-worker.js", import.meta.url)),
    owed: 0,
  }));
  const working = new Set<Promise<unknown>>();
  const close = async (): Promise<void> => {
    await Promise.allSettled(working); // a thread is never ended inside the runtime: see halt.ts
    for (const { thread } of pool) thread.end();
  };
  try {
    const opened = await Promise.allSettled(
      pool.map(({ thread }) => thread.ask("open", { runtime, bytes, card })),
    );
    for (const part of opened) if (part.status === "rejected") throw part.reason;
  } catch (e) {
    await close();
    throw e;
  }
  const letGo = letGoNowAndThen();
  return {
    async run(sound) {
      letGo();
      const idlest = pool.reduce((best, next) => (next.owed < best.owed ? next : best));
      const work = idlest.thread.ask<BlockHeard>("run", sound, undefined, [sound.samples.buffer]);
      idlest.owed++;
      working.add(work);
      try {
        return await work;
      } finally {
        idlest.owed--;
        working.delete(work);
      }
    },
    close,
  };
}
