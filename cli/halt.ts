/** Ends native work before the process ends. A thread that is stopped inside onnxruntime takes the process down with SIGABRT (1.30, "Napi::Error"),
 * so nobody is stopped there: once the program is to end no new run begins, and the ones that go on, a fraction of a second each, are waited for.
 * The two numbers lie in memory that all threads share, found by a name that Node hands from thread to thread. */
import { getEnvironmentData, setEnvironmentData } from "node:worker_threads";

const NAME = "pulgar.halt";
const [HALTING, RUNNING] = [0, 1];
const POLL_MS = 5;

function cells(): Int32Array {
  const known = getEnvironmentData(NAME) as unknown;
  if (known instanceof SharedArrayBuffer) return new Int32Array(known);
  const made = new SharedArrayBuffer(8);
  setEnvironmentData(NAME, made);
  return new Int32Array(made);
}

/** To be called before threads are started, so that they share the numbers. */
export const prepareHalt = (): void => void cells();

/** Does native work; where the program is ending it never begins, and nothing comes after it. */
export async function unhalted<T>(work: () => Promise<T>): Promise<T> {
  const shared = cells();
  Atomics.add(shared, RUNNING, 1);
  if (Atomics.load(shared, HALTING) === 1) {
    Atomics.sub(shared, RUNNING, 1);
    return new Promise(() => undefined);
  }
  try {
    return await work();
  } finally {
    Atomics.sub(shared, RUNNING, 1);
  }
}

/** Lets no native work begin any more. @returns when what had begun is over */
export async function halt(): Promise<void> {
  const shared = cells();
  Atomics.store(shared, HALTING, 1);
  while (Atomics.load(shared, RUNNING) > 0) await new Promise((done) => setTimeout(done, POLL_MS));
}
