/** A thread that hears stretches of a take: one of a few, each with a network and buffers of its own, which it lets go when nothing more
 * is asked: what comes after listening needs the room. */
import type { ListenerCard } from "../src/notes/card.js";
import { makeEars } from "../src/notes/hear.js";
import type { BlockHeard, RunNet, SoundBlock } from "../src/notes/played-note.js";
import { letGo, letGoNowAndThen } from "./let-go.js";
import { openNet, type Runtime } from "./net.js";
import { answerQuestions } from "./thread.js";

const IDLE_MS = 100; // between stretches of a take the next one waits already; opening the network again takes about as long

type Model = { runtime: Runtime; bytes: Uint8Array; card: ListenerCard };
type Ears = { run: RunNet; close: () => Promise<void> };

let model: Model | undefined;
let ears: Promise<Ears> | undefined;
let owed = 0;
let idle: NodeJS.Timeout | undefined;

async function openEars({ runtime, bytes, card }: Model): Promise<Ears> {
  const net = await openNet(runtime, bytes);
  const dropOld = letGoNowAndThen();
  const run = makeEars((features, frameCount) => {
    dropOld();
    return net.run(features, [frameCount, card.frameLen]);
  }, card);
  return { run, close: net.close };
}

async function rest(): Promise<void> {
  const old = await ears;
  if (owed > 0) return;
  ears = undefined;
  await old?.close();
  letGo();
}

answerQuestions({
  async open(given: Model): Promise<void> {
    model = given;
    ears = openEars(given);
    await ears;
  },
  async run(sound: SoundBlock): Promise<BlockHeard> {
    if (!model) throw new Error("no network is open");
    owed++;
    clearTimeout(idle);
    ears ??= openEars(model);
    try {
      return await (await ears).run(sound);
    } finally {
      owed--;
      if (owed === 0) idle = setTimeout(() => void rest(), IDLE_MS).unref();
    }
  },
});
