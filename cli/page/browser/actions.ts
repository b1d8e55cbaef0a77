/** Everything the page can do, one row an action: its keys, its words, what it does. The keyboard, the list of keys and the buttons read it. */
import { goActions } from "./actions-go.js";
import { listenActions } from "./actions-listen.js";
import { mendActions } from "./actions-mend.js";
import type { Mends, Tell } from "./mends.js";
import { type Model, ZOOM } from "./model.js";
import type { Player } from "./player.js";

export type Action = {
  id: string;
  /** As KeyboardEvent names them: "Ctrl+Shift+Z", "ArrowLeft", "Alt+Digit1"; the first is shown. */
  keys: readonly string[];
  shown: string;
  group: "Listen" | "Go" | "Mend" | "Keep" | "Look";
  words: string;
  /** Which of its keys was pressed matters: digits, fingers. */
  isChosenByKey?: true;
  /** @param whenMs when the key was pressed, on the page's clock: an action may have to wait for the mends before it */
  run: (key: string, whenMs: number) => void;
};

export type Desk = {
  model: Model;
  mends: Mends;
  player: Player;
  tell: Tell;
  changed: () => void;
  /** Brings the caret into view. */
  show: () => void;
  openChord: () => void;
  openGrid: () => void;
  openTitle: () => void;
  openMode: () => void;
  openMarks: () => void;
  toggleKeys: () => void;
  toggleFilm: () => void;
  zoom: (factor: number) => void;
};

const GROUPS = ["Listen", "Go", "Mend", "Keep", "Look"] as const;

/** All rows, in the order of the list. */
export function makeActions(desk: Desk): Action[] {
  const rows = [...listenActions(desk), ...goActions(desk), ...mendActions(desk)];
  return GROUPS.flatMap((group) => rows.filter((row) => row.group === group));
}

/** A key press as the table names it. */
export function keyName(event: KeyboardEvent): string {
  const ctrl = event.ctrlKey || event.metaKey ? "Ctrl+" : "";
  const alt = event.altKey ? "Alt+" : "";
  if (event.altKey && /^Digit\d$/.test(event.code)) return `${ctrl}${alt}${event.code}`;
  if (event.key === " ") return `${ctrl}${alt}${event.shiftKey ? "Shift+" : ""}Space`;
  if (event.key.length > 1) return `${ctrl}${alt}${event.shiftKey ? "Shift+" : ""}${event.key}`;
  const isLetter = event.key.toLowerCase() !== event.key.toUpperCase();
  if (!isLetter) return `${ctrl}${alt}${event.key}`;
  const letter = event.shiftKey || ctrl ? event.key.toUpperCase() : event.key.toLowerCase();
  return `${ctrl}${alt}${event.shiftKey ? "Shift+" : ""}${letter}`;
}

/** Left edge so that a moment stands at a share of the view. */
export const leftFor = (model: Model, sec: number, share: number): number =>
  Math.max(-0.3, sec - (share * model.viewPx) / model.pxPerSec);

export const zoomTo = (px: number): number => Math.min(ZOOM.most, Math.max(ZOOM.least, px));
