/** A thread that runs the listener's network: one of a few, each with a session of its own. */
import type { NetOut } from "../src/notes/played-note.js";
import { letGoNowAndThen } from "./let-go.js";
import { type OpenNet, openNet, type Runtime } from "./net.js";
import { answerQuestions } from "./thread.js";

let net: OpenNet | undefined;
const letGo = letGoNowAndThen();

answerQuestions({
  async open({ runtime, bytes }: { runtime: Runtime; bytes: Uint8Array }): Promise<void> {
    net = await openNet(runtime, bytes);
  },
  async run({
    features,
    dims,
  }: {
    features: Float32Array;
    dims: readonly [number, number];
  }): Promise<NetOut> {
    if (!net) throw new Error("no network is open");
    const out = await net.run(features, dims);
    letGo();
    return out;
  },
});
