/** Threads of our own: a question goes in, progress and one answer come back. Work that takes seconds stays out of the thread that serves. */
import { parentPort, Worker, type WorkerOptions } from "node:worker_threads";
import { type ErrorCode, PulgarError } from "../src/base/errors.js";

/** Starts a module in a thread; from source, where Node cannot load it, by way of the TypeScript loader. @param url of the built module, ".js" */
export function startThread(url: URL, options: WorkerOptions = {}): Worker {
  if (!import.meta.url.endsWith(".ts")) return new Worker(url, options);
  const source = url.href.replace(/\.js$/, ".ts");
  // Found from the folder the command is run in, the project's own: only builders run from source.
  const code = `import("tsx/esm/api").then(({ register }) => { register(); return import(${JSON.stringify(source)}); });`;
  return new Worker(code, { ...options, eval: true });
}

type Question = { id: number; kind: string; body: unknown };
type Answer =
  | { id: number; kind: "share"; share: number }
  | { id: number; kind: "done"; body: unknown }
  | { id: number; kind: "refused"; code: ErrorCode; message: string; hint: string }
  | { id: number; kind: "bug"; message: string; stack: string };

export type Thread = {
  /** @param given arrays of `body` that are handed over, not copied: nobody here may use them after
   * @throws PulgarError as the thread threw it, or a plain Error where it broke or has ended */
  ask: <T>(
    kind: string,
    body: unknown,
    onShare?: (share: number) => void,
    given?: readonly ArrayBuffer[],
  ) => Promise<T>;
  end: () => void;
};

/** A thread that is asked again and again; it starts with the first question, and keeps the process alive only while it owes an answer. */
export function openThread(url: URL): Thread {
  type Waiting = {
    done: (body: unknown) => void;
    fail: (e: Error) => void;
    onShare: (share: number) => void;
  };
  const waiting = new Map<number, Waiting>();
  let worker: Worker | undefined;
  let count = 0;
  const failAll = (e: Error): void => {
    for (const { fail } of waiting.values()) fail(e);
    waiting.clear();
  };
  function start(): Worker {
    const started = startThread(url);
    started.unref();
    started.on("message", (answer: Answer) => {
      const asker = waiting.get(answer.id);
      if (!asker) return;
      if (answer.kind === "share") {
        asker.onShare(answer.share);
        return;
      }
      waiting.delete(answer.id);
      if (waiting.size === 0) started.unref();
      if (answer.kind === "done") asker.done(answer.body);
      else if (answer.kind === "refused")
        asker.fail(new PulgarError(answer.code, answer.message, answer.hint));
      else asker.fail(Object.assign(new Error(answer.message), { stack: answer.stack }));
    });
    started.on("error", failAll);
    started.on("exit", () => {
      worker = undefined; // a later question starts another; what this one held is gone with it
      failAll(new Error("the thread has ended"));
    });
    return started;
  }
  return {
    ask<T>(
      kind: string,
      body: unknown,
      onShare: (share: number) => void = () => undefined,
      given: readonly ArrayBuffer[] = [],
    ): Promise<T> {
      worker ??= start();
      worker.ref();
      const id = ++count;
      return new Promise<T>((done, fail) => {
        waiting.set(id, { done: done as (body: unknown) => void, fail, onShare });
        worker?.postMessage({ id, kind, body } satisfies Question, [...given]);
      });
    },
    end: () => void worker?.terminate(),
  };
}

/** In the thread: how each kind of question is answered. Questions may overlap. */
export function answerQuestions(
  answers: Readonly<Record<string, (body: never, onShare: (share: number) => void) => Promise<unknown>>>,
): void {
  const post = (answer: Answer): void => parentPort?.postMessage(answer);
  parentPort?.on("message", ({ id, kind, body }: Question) => {
    const answer = answers[kind];
    if (!answer) throw new Error(`no answer to ${kind}`);
    answer(body as never, (share) => post({ id, kind: "share", share })).then(
      (result) => post({ id, kind: "done", body: result }),
      (e: unknown) =>
        post(
          e instanceof PulgarError
            ? { id, kind: "refused", code: e.code, message: e.message, hint: e.hint }
            : e instanceof Error
              ? { id, kind: "bug", message: e.message, stack: e.stack ?? "" }
              : { id, kind: "bug", message: String(e), stack: "" },
        ),
    );
  });
}
