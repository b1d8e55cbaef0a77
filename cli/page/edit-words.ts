/** Edits in words: for undo, for the offer to siblings, for what is said aloud. */

import { beatsText } from "../../src/sheet/beats-text.js";
import type { Edit, NoteRef } from "../../src/sheet/edit.js";

const beat = (tick: number): string =>
  `beat ${beatsText(tick + 24)
    .replace("+1/2", "½")
    .replace("+1/4", "¼")
    .replace("+3/4", "¾")}`;

/** @param bars in order, at least one */
export const barsWords = (bars: readonly number[]): string =>
  bars.length === 1 ? `bar ${bars[0]}` : `bars ${bars.slice(0, -1).join(", ")} and ${bars.at(-1)}`;

const place = (at: NoteRef): string => `bar ${at.bar} ${beat(at.tick)} string ${at.string}`;

export function editWords(edit: Edit): string {
  switch (edit.kind) {
    case "move-string":
      return `${place(edit.at)} to string ${edit.string}`;
    case "set-fret":
      return `${place(edit.at)} to fret ${edit.fret}`;
    case "set-finger":
      return `${place(edit.at)} ${edit.finger === "none" ? "without a letter" : `plucked by ${edit.finger}`}`;
    case "set-left-finger":
      return `${place(edit.at)} left finger ${edit.leftFinger}`;
    case "set-marks":
      return `${place(edit.at)} ${edit.marks.length > 0 ? edit.marks.join(", ") : "without marks"}`;
    case "move-place":
      return `${place(edit.at)} to bar ${edit.bar} ${beat(edit.tick)}`;
    case "set-length":
      return `${place(edit.at)} lasts ${beatsText(edit.lengthTicks)} beats`;
    case "delete-note":
      return `${place(edit.at)} taken out`;
    case "accept-alternative":
      return `${place(edit.at)} at its other place`;
    case "settle-note":
      return `${place(edit.at)} settled`;
    case "release-note":
      return `${place(edit.at)} left to the machine`;
    case "add-note":
      return `${place(edit.note)} fret ${edit.note.fret} added`;
    case "settle-bar":
      return `bar ${edit.bar} settled`;
    case "rename-chord":
      return `chord ${edit.symbol} in bar ${edit.bar}`;
    case "delete-chord":
      return `chord taken out of bar ${edit.bar}`;
    case "set-grid":
      return "grid moved";
    case "set-title":
      return `title "${edit.title}"`;
    case "set-composer":
      return `composer "${edit.composer}"`;
    case "set-mode":
      return `mode ${edit.tonic} ${edit.mode}`;
  }
}

/** Bars whose notes an edit touches; [] where the whole sheet or no note is concerned. */
export function barsTouched(edit: Edit): number[] {
  switch (edit.kind) {
    case "move-place":
      return edit.at.bar === edit.bar ? [edit.bar] : [edit.at.bar, edit.bar];
    case "add-note":
      return [edit.note.bar];
    case "settle-bar":
    case "rename-chord":
    case "delete-chord":
      return [edit.bar];
    case "set-grid":
    case "set-title":
    case "set-composer":
    case "set-mode":
      return [];
    default:
      return [edit.at.bar];
  }
}

/** Does the edit change which strings and frets are held, so that the machine's notes around it should be looked at again? */
export const movesHand = (edit: Edit): boolean =>
  [
    "move-string",
    "set-fret",
    "move-place",
    "delete-note",
    "accept-alternative",
    "add-note",
    "release-note",
    "set-finger",
  ].includes(edit.kind);
