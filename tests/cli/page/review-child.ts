/** A review in a process of its own, to be killed: prints its address. Arguments: folder, page folder, port. */
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { openReview } from "../../../cli/commands/review.js";
import { openSound } from "../../../cli/page/sound.js";
import { PulgarError } from "../../../src/base/errors.js";

const [dir = "", pageDir = "", port = "0"] = process.argv.slice(2);
const opened = await openReview(
  { sheetPath: join(dir, "take.tab.txt"), port: Number(port) },
  {
    pageDir,
    openSound,
    ear: {
      listen: () => Promise.reject(new PulgarError("bad-model", "no ears in this trial", "None needed.")),
      check: () => Promise.reject(new Error("nothing was heard")),
      end: () => undefined,
    },
  },
);
readFileSync(opened.files.text);
process.stdout.write(`${opened.page.address}\n`);
