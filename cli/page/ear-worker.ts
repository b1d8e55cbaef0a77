/** The thread that listens to the recording and checks the sheet against what it heard. */
import type { Take } from "../../src/audio/take.js";
import { checkSheet } from "../../src/check/compare.js";
import { listen } from "../../src/notes/listen.js";
import type { Listening } from "../../src/notes/played-note.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import { openListener } from "../listener-runtime.js";
import { answerQuestions } from "../thread.js";

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
