/** A thread that hears stretches of a take: one of a few, each with a network and buffers of its own. */
import type { ListenerCard } from "../src/notes/card.js";
import { makeEars } from "../src/notes/hear.js";
import type { BlockHeard, RunNet, SoundBlock } from "../src/notes/played-note.js";
import { letGoNowAndThen } from "./let-go.js";
import { openNet, type Runtime } from "./net.js";
import { answerQuestions } from "./thread.js";

let ears: RunNet | undefined;

answerQuestions({
  async open({ runtime, bytes, card }: { runtime: Runtime; bytes: Uint8Array; card: ListenerCard }) {
    const net = await openNet(runtime, bytes);
    const letGo = letGoNowAndThen();
    ears = makeEars((features, frameCount) => {
      letGo();
      return net.run(features, [frameCount, card.frameLen]);
    }, card);
  },
  async run(sound: SoundBlock): Promise<BlockHeard> {
    if (!ears) throw new Error("no network is open");
    return ears(sound);
  },
});
