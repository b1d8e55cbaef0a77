/** Lets go of arrays that nobody holds any more. Samples and features lie outside V8's heap, where V8 collects only after some 64 MB more
 * have come, in each thread: three threads would hold 200 MB of what has long been used. */
import { setFlagsFromString } from "node:v8";
import { runInNewContext } from "node:vm";

type Collect = (what?: { type: "minor" }) => void;

let collect: Collect | undefined;

function collector(): Collect {
  if (!collect) {
    setFlagsFromString("--expose-gc");
    const found: unknown = runInNewContext("globalThis.gc");
    collect = typeof found === "function" ? (found as Collect) : () => undefined; // where there is none, memory is held longer, no more
  }
  return collect;
}

/** Takes a few ms while the heap itself is small. */
export const letGo = (): void => collector()();

const CALLS_A_TIME = 8; // blocks of 4 MB, or pieces of a file with 1.5 MB of what is made of them

/** A function to be called block by block: it lets go of what is young, in half a ms, and at every eighth call of all. */
export function letGoNowAndThen(): () => void {
  let calls = 0;
  return () => {
    if (++calls % CALLS_A_TIME === 0) letGo();
    else collector()({ type: "minor" });
  };
}
