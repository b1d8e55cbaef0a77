/** `pulgar key`: key or mode of any recording, as JSON or as words for a lesson. */

import { sayTrack } from "../../src/harmony/say.js";
import { findTrackKey } from "../../src/harmony/track.js";
import { trackKeyToJson } from "../../src/harmony/track-json.js";
import type { Flags } from "../arguments.js";
import { openTake } from "../decoder.js";
import { askEssentia } from "../essentia.js";
import { type Io, progressLine } from "../terminal.js";

export async function command(args: readonly string[], flags: Flags, io: Io): Promise<number> {
  const progress = progressLine(io);
  progress.onProgress("reading", 0);
  const { take } = await openTake(args[0] ?? "", { isPartialOk: flags.partial === true });
  const vote = await askEssentia(take.samples, take.sampleRateHz);
  const found = await findTrackKey(take, { ...(vote ? { vote } : {}), onProgress: progress.onProgress });
  progress.done();
  io.out(io.isJson ? `${JSON.stringify(trackKeyToJson(found))}\n` : sayTrack(found));
  return 0;
}
