/** Chord symbols, repeats with endings and rehearsal letters of a MusicXML part.
 * Source: W3C MusicXML 4.0, elements harmony, kind, repeat, ending, rehearsal. */
import { parseChordSymbol } from "../theory/chord.js";
import { BEAT_TICKS } from "./bar-time.js";
import { rootAndBass } from "./chord-name.js";
import { KIND_SUFFIXES } from "./kind-table.js";
import type { ScoreHead } from "./musicxml-head.js";
import type { MeasurePlace } from "./read-musicxml.js";
import type { FormPart, Repeat, SheetChord } from "./sheet.js";
import { child, childNumber, childrenOf, childText, type XmlElement } from "./xml-tree.js";

const nameOf = (element: XmlElement | undefined, what: "root" | "bass"): string => {
  const step = childText(element, `${what}-step`) ?? "";
  if (!/^[A-G]$/.test(step)) return "";
  const alter = Math.max(-2, Math.min(2, Math.round(childNumber(element, `${what}-alter`) ?? 0)));
  return step + (alter > 0 ? "#".repeat(alter) : "b".repeat(-alter));
};

/** The symbol as printed: the kind's own text where it makes a chord name, else the usual suffix of the kind. */
function symbolOf(harmony: XmlElement): string | undefined {
  const kind = child(harmony, "kind");
  const value = kind?.text.trim() ?? "";
  if (value === "none") return kind?.attributes.text || "N.C.";
  const root = nameOf(child(harmony, "root"), "root");
  if (root === "") return undefined;
  const bass = nameOf(child(harmony, "bass"), "bass");
  const slash = bass === "" ? "" : `/${bass}`;
  const text = kind?.attributes.text;
  if (text !== undefined && (value === "other" || parseChordSymbol(root + text) !== undefined))
    return root + text.replace(/\s+/g, "") + slash;
  return root + (KIND_SUFFIXES[value] ?? "") + slash;
}

/** Chords in order; of two at one place the first. */
export function chordsOf(places: readonly MeasurePlace[], head: ScoreHead): SheetChord[] {
  const barTicks = head.meter.beats * BEAT_TICKS;
  const chords: SheetChord[] = [];
  const taken = new Set<string>();
  for (const { measure, bar: measureBar, offsetTicks } of places)
    for (const { element, onsetQuarters } of measure.harmonies) {
      const symbol = symbolOf(element);
      if (symbol === undefined) continue;
      const ticks = offsetTicks + Math.round(onsetQuarters * head.quarterTicks);
      const most = Math.max(0, Math.round(measure.quarters * head.quarterTicks) - 1) + offsetTicks;
      const held = Math.min(ticks, most);
      const bar = measureBar === 0 ? 0 : measureBar + Math.floor(held / barTicks);
      const beat = 1 + (measureBar === 0 ? held : held % barTicks) / BEAT_TICKS;
      if (taken.has(`${bar} ${beat}`)) continue;
      taken.add(`${bar} ${beat}`);
      chords.push({ bar, beat, symbol, ...rootAndBass(symbol), confidence: 1, alternatives: [], by: "hand" });
    }
  return chords.sort((a, b) => a.bar - b.bar || a.beat - b.beat);
}

/** Repeats from the bar lines; a backward sign without a forward one goes back to the last repeat's end, or bar 1. */
export function repeatsOf(places: readonly MeasurePlace[]): Repeat[] {
  const repeats: Repeat[] = [];
  let fromBar = 1;
  let endings: Repeat["endings"] = [];
  let open: Repeat["endings"][number] | undefined;
  let times = 2;
  let wentBack = false;
  const close = (toBar: number): void => {
    const most = endings.reduce((max, e) => Math.max(max, ...e.times), times);
    if (wentBack && toBar >= fromBar)
      repeats.push({
        fromBar,
        toBar,
        times: Math.min(99, most),
        endings: endings.map((e) => ({ times: [...e.times], bars: [...e.bars] })),
      });
    fromBar = toBar + 1;
    endings = [];
    open = undefined;
    times = 2;
    wentBack = false;
  };
  for (const [idx, { measure, bar }] of places.entries()) {
    if (bar < 1) continue;
    const left = measure.barlines.filter((b) => b.attributes.location === "left");
    const right = measure.barlines.filter((b) => b.attributes.location !== "left");
    const has = (lines: readonly XmlElement[], direction: string): XmlElement | undefined =>
      lines.map((b) => child(b, "repeat")).find((r) => r?.attributes.direction === direction);
    if (has(left, "forward")) {
      if (wentBack) close(bar - 1);
      fromBar = bar;
    }
    for (const ending of left.flatMap((b) => childrenOf(b, "ending")))
      if (ending.attributes.type === "start") {
        open = { times: numbersOf(ending.attributes.number ?? ""), bars: [] };
        endings.push(open);
      }
    if (open && !open.bars.includes(bar)) open.bars.push(bar);
    const back = has(right, "backward");
    const ended = right.flatMap((b) => childrenOf(b, "ending")).some((e) => e.attributes.type !== "start");
    if (back) {
      wentBack = true;
      times = Math.max(2, Math.min(99, Math.round(Number(back.attributes.times ?? 2)) || 2));
    }
    if (back && endings.length === 0) close(bar);
    else if (ended || (back && open)) {
      open = undefined;
      const next = places[idx + 1]?.measure.barlines.filter((b) => b.attributes.location === "left") ?? [];
      if (!next.some((b) => child(b, "ending")?.attributes.type === "start")) close(bar);
    }
  }
  return repeats;
}

const numbersOf = (text: string): number[] => {
  const numbers = text
    .split(/[\s,]+/)
    .filter((t) => /^\d{1,2}$/.test(t))
    .map(Number);
  return numbers.length > 0 ? numbers : [1];
};

/** Parts from rehearsal letters, each up to the next. */
export function formOf(places: readonly MeasurePlace[], barCount: number): FormPart[] {
  const starts: { label: string; bar: number }[] = [];
  for (const { measure, bar } of places)
    for (const direction of measure.directions)
      for (const type of childrenOf(direction, "direction-type")) {
        const label = childText(type, "rehearsal");
        if (label && bar >= 1 && starts.at(-1)?.bar !== bar) starts.push({ label: label.slice(0, 100), bar });
      }
  return starts.map(({ label, bar }, k) => {
    const end = starts[k + 1]?.bar ?? barCount + 1;
    return { label, bars: Array.from({ length: Math.max(0, end - bar) }, (_, n) => bar + n) };
  });
}
