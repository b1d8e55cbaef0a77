/** What the page knows and where the user is in it. One object; whoever changes it calls `changed`. */
import type { HeardNote, PageBar, PageCheck, PageNote, PageSheet, PageState } from "../view-types.js";
import { groupBy } from "./dom.js";

export type Caret = { bar: number; tick: number; string: number };
export type Sound = "recording" | "sheet" | "both";
export type Stretch = { fromSec: number; toSec: number };

export const STEPS = [24, 12, 8, 6, 4, 3] as const;
export const STEP_WORDS: Record<number, string> = {
  24: "whole beat",
  12: "half beat",
  8: "third of a beat",
  6: "quarter beat",
  4: "sixth of a beat",
  3: "eighth of a beat",
};

export type Model = {
  state: PageState;
  heard: HeardNote[];
  peaks: Uint8Array | undefined;
  caret: Caret;
  /** Other end of a selection in time, in seconds; undefined when nothing is selected. */
  anchorSec: number | undefined;
  loop: Stretch | undefined;
  stepTicks: number;
  pxPerSec: number;
  leftSec: number;
  viewPx: number;
  playSec: number;
  isPlaying: boolean;
  sound: Sound;
  speed: number;
  showsDoubtful: boolean;
  isGone: boolean;
};

export const ZOOM = { least: 12, most: 400 } as const;

type Index = { bars: Map<number, PageBar>; notes: Map<number, PageNote[]>; unsureCount: number };
const indexes = new WeakMap<PageSheet, Index>();

/** A sheet's bars and notes by bar number: asked for in every frame, made once a sheet. */
function indexOf(sheet: PageSheet): Index {
  let index = indexes.get(sheet);
  if (!index) {
    index = {
      bars: new Map(sheet.bars.map((b) => [b.bar, b])),
      notes: groupBy(sheet.notes, (n) => n.bar),
      unsureCount: sheet.notes.filter((n) => n.isUnsure).length,
    };
    indexes.set(sheet, index);
  }
  return index;
}

export const unsureCount = (model: Model): number => indexOf(model.state.sheet).unsureCount;

const barOf = (model: Model, bar: number): PageBar | undefined => indexOf(model.state.sheet).bars.get(bar);

/** Seconds of a place. */
export function secAt(model: Model, bar: number, tick: number): number {
  const b = barOf(model, bar);
  if (!b) return 0;
  const step = tick / 3;
  const idx = Math.max(0, Math.min(b.tickSec.length - 2, Math.floor(step)));
  const from = b.tickSec[idx] ?? b.startSec;
  const to = b.tickSec[idx + 1] ?? b.endSec;
  return from + (step - idx) * (to - from);
}

/** The bar that sounds at a moment: the first or last one outside. */
function barAtSec(model: Model, sec: number): PageBar | undefined {
  const { bars } = model.state.sheet;
  let found = bars[0];
  for (const b of bars) {
    if (b.startSec > sec) break;
    found = b;
  }
  return found;
}

/** The place nearest to a moment, on the step. */
export function placeAtSec(model: Model, sec: number, stepTicks: number): { bar: number; tick: number } {
  const b = barAtSec(model, sec);
  if (!b) return { bar: 1, tick: 0 };
  let best = { bar: b.bar, tick: 0 };
  let bestSec = Number.POSITIVE_INFINITY;
  for (let tick = 0; tick < b.ticks; tick += stepTicks) {
    const off = Math.abs(secAt(model, b.bar, tick) - sec);
    if (off < bestSec) [best, bestSec] = [{ bar: b.bar, tick }, off];
  }
  const after = model.state.sheet.bars[model.state.sheet.bars.indexOf(b) + 1];
  if (after && Math.abs(after.startSec - sec) < bestSec) best = { bar: after.bar, tick: 0 };
  return best;
}

export const notesOfBar = (model: Model, bar: number): PageNote[] =>
  indexOf(model.state.sheet).notes.get(bar) ?? [];

/** The note under the caret; a grace note only when nothing else is there. */
export function noteAtCaret(model: Model): PageNote | undefined {
  const { bar, tick, string } = model.caret;
  const here = notesOfBar(model, bar).filter((n) => n.tick === tick && n.string === string);
  return here.find((n) => !n.marks.includes("grace")) ?? here[0];
}

export const caretSec = (model: Model): number => secAt(model, model.caret.bar, model.caret.tick);

/** Selected time, or undefined. */
export function selected(model: Model): Stretch | undefined {
  if (model.anchorSec === undefined) return undefined;
  const at = caretSec(model);
  return at === model.anchorSec
    ? undefined
    : { fromSec: Math.min(at, model.anchorSec), toSec: Math.max(at, model.anchorSec) };
}

type Verdict = "same" | "differs" | "unsure";
const verdicts = new WeakMap<PageCheck, Map<number, Verdict>>();

export function verdictOf(model: Model, bar: number): Verdict | undefined {
  const { check } = model.state;
  if (check.kind !== "done") return undefined;
  let ofBar = verdicts.get(check);
  if (!ofBar) {
    ofBar = new Map(check.verdicts.map((v) => [v.bar, v.verdict]));
    verdicts.set(check, ofBar);
  }
  return ofBar.get(bar);
}

/** A place in words. */
export function beatWords(tick: number): string {
  const beat = Math.floor(tick / 24) + 1;
  const within = tick % 24;
  const parts: Record<number, string> = {
    0: "",
    12: " and a half",
    6: " and a quarter",
    18: " and three quarters",
    8: " and a third",
    16: " and two thirds",
  };
  return `beat ${beat}${parts[within] ?? ` and ${within}/24`}`;
}

const FINGER_WORDS: Record<string, string> = { p: "thumb", i: "index", m: "middle", a: "ring" };

/** A note in words, for the status line and screen readers. */
export function noteWords(note: PageNote): string {
  return [
    `string ${note.string}, fret ${note.fret}, ${note.pitch}`,
    note.finger ? `${note.finger} (${FINGER_WORDS[note.finger]})` : "",
    note.marks.join(", "),
    note.by === "hand"
      ? "settled by hand"
      : note.isUnsure
        ? `unsure, ${percent(note.confidence)}`
        : `by machine, ${percent(note.confidence)}`,
  ]
    .filter(Boolean)
    .join("; ");
}

export const percent = (share: number): string => `${Math.round(share * 100)}\u00a0%`;

export function clockText(sec: number): string {
  const s = Math.max(0, sec);
  return `${Math.floor(s / 60)}:${(s % 60).toFixed(1).padStart(4, "0")}`;
}
