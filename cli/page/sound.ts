/** The sound behind the page: opened once, then drawn in pieces. In a thread of its own where the page is served, in this one for trials. */
import type { Take } from "../../src/audio/take.js";
import { openTake } from "../decoder.js";
import { openThread } from "../thread.js";
import { makePicture, wavePeaks, wavOf } from "./picture.js";

/** An opened recording; its samples lie in memory that all threads see: the listener's would else be another 600 MB of an hour.
 * `tile`: see makePicture. */
export type OpenSound = {
  take: Take;
  peaks: Uint8Array;
  tile: (tileIdx: number) => Promise<Uint8Array>;
  wav: () => Promise<Uint8Array>;
};

/** @throws PulgarError for what is no recording; one that was cut short is taken as far as it goes */
export async function openSound(path: string): Promise<OpenSound> {
  const { take } = await openTake(path, { isPartialOk: true, isShared: true });
  const draw = makePicture(take.samples, take.sampleRateHz);
  return {
    take,
    peaks: wavePeaks(take.samples, take.sampleRateHz),
    tile: async (tileIdx) => draw(tileIdx),
    wav: async () => wavOf(take.samples, take.sampleRateHz),
  };
}

/** What the thread says of a sound it has opened. */
export type SharedSound = { take: Take; peaks: Uint8Array };

/** Opens recordings in a thread. @returns open: as openSound; end: ends the thread */
export function soundThread(): { open: (path: string) => Promise<OpenSound>; end: () => void } {
  const thread = openThread(new URL("./sound-worker.js", import.meta.url));
  return {
    async open(path) {
      const { take, peaks } = await thread.ask<SharedSound>("open", path);
      return {
        take,
        peaks,
        tile: (tileIdx) => thread.ask<Uint8Array>("tile", tileIdx),
        wav: () => thread.ask<Uint8Array>("wav", undefined),
      };
    },
    end: thread.end,
  };
}
