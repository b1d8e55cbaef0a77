/** The thread that listens to the recording and checks the sheet against what it heard. It gives way to the page. */
import { setPriority } from "node:os";
import type { Take } from "../../src/audio/take.js";
import { checkSheet } from "../../src/check/compare.js";
import { listen } from "../../src/notes/listen.js";
import type { Listening } from "../../src/notes/played-note.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import { openListener } from "../listener-runtime.js";
import { answerQuestions } from "../thread.js";

const GIVES_WAY = 10; // as `nice` counts: of the thread and those it starts on Linux, of the process elsewhere
setPriority(0, GIVES_WAY);

let listening: Listening | undefined;

answerQuestions({
  async listen(take: Take, onShare): Promise<Listening> {
    const listener = await openListener();
    try {
      listening = await listen(take, listener.run, {
        card: listener.card,
        onProgress: (_stage, share) => onShare(share),
      });
      return listening;
    } finally {
      await listener.close();
    }
  },
  async check(sheet: Sheet) {
    if (!listening) throw new Error("nothing was heard yet");
    return checkSheet(sheet, listening);
  },
});
