/** The ear: listens to the take, and asks it about the sheet after every mend. Both take seconds on a long take. */
import type { Take } from "../../src/audio/take.js";
import type { CheckReport } from "../../src/check/report.js";
import type { Listening } from "../../src/notes/played-note.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import { openThread } from "../thread.js";

export type Ear = {
  /** @throws PulgarError where there is no listener */
  listen: (take: Take, onShare: (share: number) => void) => Promise<Listening>;
  /** @throws PulgarError where sheet and recording are other music */
  check: (sheet: Sheet, listening: Listening) => Promise<CheckReport>;
  end: () => void;
};

/** An ear in a thread of its own, which remembers what it heard. */
export function earThread(): Ear {
  const thread = openThread(new URL("./ear-worker.js", import.meta.url));
  return {
    listen: (take, onShare) => thread.ask<Listening>("listen", take, onShare),
    check: (sheet) => thread.ask<CheckReport>("check", sheet),
    end: thread.end,
  };
}
