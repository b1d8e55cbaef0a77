/** The sheet under the picture: chords, six lines, fret numbers, letters. Bars are elements, made as they come into view and dropped when
 * they are far; a bar is made again only when something in it changed. */
import type { PageBar, PageChord, PageNote } from "../view-types.js";
import { byId, el, groupBy } from "./dom.js";
import { type Model, noteWords, secAt, verdictOf } from "./model.js";

const TOP_PX = 40; // room for the chords over the first line
const isFinger = window.matchMedia("(pointer: coarse)").matches;
const LINE_PX = isFinger ? 31 : 22; // a fingertip hits a line of 8 mm, a mouse one of 6

export const LANE = {
  linePx: LINE_PX,
  topPx: TOP_PX,
  heightPx: TOP_PX + 6 * LINE_PX + 50, // with the letters and the count under the lines
} as const;

/** Tells the stylesheet how far the lines are apart. */
export function sizeLane(): void {
  document.documentElement.style.setProperty("--line-px", `${LANE.linePx}px`);
  document.documentElement.style.setProperty("--lane-px", `${LANE.heightPx}px`);
}

const NEAR_PX = 600; // bars this far outside are kept ready

export const lineY = (string: number): number => LANE.topPx + (string - 1) * LANE.linePx + LANE.linePx / 2;

export type TabLane = { draw: (width: number) => void };

type Shown = { node: HTMLElement; key: string; stamp: number };

export function makeTabLane(model: Model): TabLane {
  const home = byId("bars");
  const shown = new Map<number, Shown>();
  let lastState: unknown;
  let lastCheck: unknown;
  let lastPx = 0;
  let stamp = 0; // goes up when anything that bars show may have changed
  let byBar = new Map<number, PageNote[]>();
  let chordsByBar = new Map<number, PageChord[]>();

  function regroup(): void {
    const { sheet, check } = model.state;
    if (lastState === sheet && lastCheck === check && lastPx === model.pxPerSec) return;
    [lastState, lastCheck, lastPx] = [sheet, check, model.pxPerSec];
    stamp++;
    byBar = groupBy(model.state.sheet.notes, (n) => n.bar);
    chordsByBar = groupBy(model.state.sheet.chords, (c) => c.bar);
  }

  return {
    draw(width) {
      regroup();
      const { leftSec, pxPerSec } = model;
      home.style.transform = `translateX(${-leftSec * pxPerSec}px)`;
      const from = leftSec - NEAR_PX / pxPerSec;
      const to = leftSec + (width + NEAR_PX) / pxPerSec;
      const wanted = new Set<number>();
      for (const bar of model.state.sheet.bars) {
        if (bar.endSec < from || bar.startSec > to) continue;
        wanted.add(bar.bar);
        const old = shown.get(bar.bar);
        if (old?.stamp === stamp) continue;
        const notes = byBar.get(bar.bar) ?? [];
        const chords = chordsByBar.get(bar.bar) ?? [];
        const verdict = verdictOf(model, bar.bar) ?? "";
        const key = JSON.stringify([pxPerSec, bar, notes, chords, verdict, differencesOf(model, bar.bar)]);
        if (old?.key === key) {
          old.stamp = stamp;
          continue;
        }
        const node = drawBar(model, bar, notes, chords);
        if (old) old.node.replaceWith(node);
        else home.append(node);
        shown.set(bar.bar, { node, key, stamp });
      }
      for (const [bar, { node }] of shown)
        if (!wanted.has(bar)) {
          node.remove();
          shown.delete(bar);
        }
    },
  };
}

function differencesOf(model: Model, bar: number): string[] {
  return model.state.check.kind === "done"
    ? model.state.check.differences.filter((d) => d.bar === bar).map((d) => `${d.string ?? ""}${d.text}`)
    : [];
}

function drawBar(model: Model, bar: PageBar, notes: PageNote[], chords: PageChord[]): HTMLElement {
  const { pxPerSec } = model;
  const x = (sec: number): number => (sec - bar.startSec) * pxPerSec;
  const node = el("div", { class: "bar", "data-bar": bar.bar });
  node.style.left = `${bar.startSec * pxPerSec}px`;
  node.style.width = `${(bar.endSec - bar.startSec) * pxPerSec}px`;
  for (const chord of chords) {
    const label = el(
      "button",
      {
        type: "button",
        tabindex: -1,
        class: `chord${chord.by === "hand" ? " hand" : chord.confidence < 0.6 ? " unsure" : ""}`,
        "data-chord": `${chord.bar}:${chord.beat}`,
        "aria-label": `chord ${chord.symbol}, bar ${chord.bar}, beat ${chord.beat}`,
      },
      chord.symbol,
    );
    label.style.left = `${x(chord.startSec) + 4}px`;
    node.append(label);
  }
  for (let tick = 0; tick < bar.ticks; tick += 24) {
    const count = el("span", { class: "count" }, String(tick / 24 + 1));
    count.style.left = `${x(secAt(model, bar.bar, tick))}px`;
    node.append(count);
  }
  const lettersAt = new Map<number, string[]>();
  for (const note of notes) {
    const at = x(note.startSec);
    const isGrace = note.marks.includes("grace");
    const ring = el("i", { class: "ring" });
    ring.style.left = `${at}px`;
    ring.style.width = `${Math.max(0, (note.endSec - note.startSec) * pxPerSec - 5)}px`;
    ring.style.top = `${lineY(note.string)}px`;
    node.append(ring);
    const head = el(
      "button",
      {
        type: "button",
        tabindex: -1,
        class: `note${note.by === "hand" ? " hand" : ""}${note.isUnsure ? " unsure" : ""}${isGrace ? " grace" : ""}`,
        "data-id": note.id,
        "aria-label": `bar ${note.bar}, beat ${note.beatText}, ${noteWords(note)}`,
      },
      noteText(note),
    );
    head.style.left = `${at - (isGrace ? 14 : 0)}px`;
    head.style.top = `${lineY(note.string)}px`;
    node.append(head);
    if (note.finger) lettersAt.set(note.startSec, [...(lettersAt.get(note.startSec) ?? []), note.finger]);
  }
  for (const [sec, letters] of lettersAt) {
    const label = el("span", { class: "letter" }, letters.join(""));
    label.style.left = `${x(sec)}px`;
    node.append(label);
  }
  return node;
}

const MARK_SIGNS: Record<string, string> = { "hammer-on": "h", "pull-off": "p", slide: "/" };

function noteText(note: PageNote): string {
  if (note.marks.includes("dead")) return "x";
  const lead = note.marks.map((m) => MARK_SIGNS[m] ?? "").join("");
  const fret = note.marks.includes("harmonic")
    ? `<${note.fret}>`
    : note.marks.includes("tie")
      ? `(${note.fret})`
      : String(note.fret);
  return `${lead}${fret}`;
}
