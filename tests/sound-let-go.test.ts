// An hour of sound is 300 MB: when it is heard nobody may hold it, or the sheet is written beside it. Reference: the garbage collector itself.
import { setFlagsFromString } from "node:v8";
import { runInNewContext } from "node:vm";
import { expect, test } from "vitest";
import type { Take } from "../src/audio/take.js";
import { draftSheet } from "../src/pipeline.js";
import { cardByHand } from "./notes/card-by-hand.js";

setFlagsFromString("--expose-gc");
const collect = runInNewContext("globalThis.gc") as () => void;
const card = cardByHand({ lowestMidi: 40, contextFrames: 8, strings: { temperature: 1, claim: 0.7 } });

let sound: WeakRef<ArrayBufferLike> | undefined;

function makeTake(): Take {
  const samples = Float32Array.from({ length: 60_000 }, (_, i) => Math.sin(i / 7) * Math.sin(i / 900));
  sound = new WeakRef(samples.buffer);
  return { samples, sampleRateHz: 22050 };
}

async function isHeld(): Promise<boolean> {
  await new Promise((done) => setTimeout(done, 5)); // what a WeakRef was asked for is held to the end of the turn
  collect();
  return sound?.deref() !== undefined;
}

test("pipeline: a take is let go of when it is heard, and not before", async () => {
  const held: Promise<boolean>[] = [];
  const drafted = draftSheet(
    makeTake(),
    { tuningName: "standard", openMidi: [40, 45, 50, 55, 59, 64], capo: 0 },
    {
      card,
      runNet: async ({ ownCount }) => {
        held.push(isHeld());
        await held[0];
        const silent = (): Int8Array => new Int8Array(ownCount * card.pitchCount).fill(-127);
        const none = { at: new Int32Array(0), attack: new Float32Array(0), strings: new Float32Array(0) };
        return { onset: silent(), sounding: silent(), thinkable: none };
      },
      onHeard: () => held.push(isHeld()),
    },
  );
  await expect(drafted).rejects.toMatchObject({ code: "no-notes" });
  expect(await Promise.all(held)).toEqual([true, false]);
});
