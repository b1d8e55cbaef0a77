/** Tells when the sheet's files change on disk: by the system's word, and by a look now and then where that is silent (network disks). */
import { type FSWatcher, watch } from "node:fs";
import { basename, dirname } from "node:path";
import type { SheetFiles } from "./sheet-files.js";

const QUIET_MS = 250; // an editor writes in several goes; look when it has stopped
const LOOK_EVERY_MS = 5000;

/** @returns ends the watch */
export function watchFiles(files: SheetFiles, onChange: () => void): () => void {
  let timer: NodeJS.Timeout | undefined;
  const soon = (): void => {
    clearTimeout(timer);
    timer = setTimeout(onChange, QUIET_MS);
    timer.unref();
  };
  const names = new Set([basename(files.text), basename(files.json)]);
  let watcher: FSWatcher | undefined;
  try {
    watcher = watch(dirname(files.text), { persistent: false }, (_event, name) => {
      if (name === null || names.has(name)) soon();
    });
    watcher.on("error", () => watcher?.close()); // the look now and then goes on
  } catch {
    watcher = undefined;
  }
  const looks = setInterval(soon, LOOK_EVERY_MS);
  looks.unref();
  return () => {
    clearTimeout(timer);
    clearInterval(looks);
    watcher?.close();
  };
}
