/** The music of the handout, engraved system by system.
 * In: a sheet and an engraver. Out: drawings in points with the places of bars and notes, for the page to add chords, letters and numbers.
 * Every system is one page of the engraver, so that the page decides where each stands. The fret numbers are set anew in the handout's own face. */
import type { Sheet, SheetNote } from "../sheet/sheet.js";
import { barNumbers, notesByBar } from "./bars.js";
import type { HandoutDeps } from "./handout-deps.js";
import { num } from "./ink.js";
import { musicXmlText } from "./musicxml.js";
import { printId } from "./note-xml.js";
import { hasClass, parseSvg, type SvgElement, walkSvg } from "./svg-tree.js";
import { escapeXml } from "./xml.js";

/** A note's place in its system, points from the system's upper left corner. */
export type PlacedInk = { note: SheetNote; x: number; y: number };

/** One drawn system. top…bottom is what the drawing covers; tab lines run from tabTop to tabBottom.
 * @property bars with the left and right end of each */
export type EngravedSystem = {
  svg: string;
  top: number;
  bottom: number;
  tabTop: number;
  tabBottom: number;
  bars: { bar: number; x0: number; x1: number }[];
  notes: PlacedInk[];
};

/** Points of a staff space of the five-line staff; tab lines are 1.75 times as far apart. 4.4 pt reads at arm's length on paper. */
const STAFF_SPACE_PT = 4.4;
/** Dots beside the stems of tab: up by a staff space and a half, and large enough to print. */
const DOT_LIFT_UNITS = 270;
const DOT_SCALE = 1.5;
/** The engraver's own units of a staff space at `unit` 9. */
const STAFF_SPACE_UNITS = 180;

/** First bar of every system: sections start on a new one where that leaves no short line, and lines are even within a section. */
function systemStarts(bars: readonly number[], sectionStarts: ReadonlySet<number>, fit: number): number[] {
  const sections: number[][] = [];
  for (const bar of bars) {
    const last = sections.at(-1);
    const prior = last?.filter((b) => b !== 0).length ?? 0;
    if (!last || (sectionStarts.has(bar) && prior >= Math.min(fit, 3))) sections.push([bar]);
    else last.push(bar);
  }
  const tail = sections.at(-1);
  if (sections.length > 1 && tail && tail.length < Math.min(fit, 3)) {
    sections.pop();
    sections.at(-1)?.push(...tail);
  }
  const starts: number[] = [];
  for (const section of sections) {
    const counted = section.filter((b) => b !== 0);
    const lines = Math.max(1, Math.ceil(counted.length / fit));
    const even = Math.ceil(counted.length / lines);
    // Four bars a line, or two, is what the eye expects; take it where it costs no line.
    const perLine =
      [4, 2].find(
        (n) => n <= fit && n >= even && Math.ceil(counted.length / n) === lines && counted.length % n !== 1,
      ) ?? even;
    for (const [idx, bar] of counted.entries())
      if (idx % perLine === 0) starts.push(idx === 0 && section[0] === 0 ? 0 : bar);
  }
  return starts;
}

/** How many bars fit a line: by the most onsets that a bar has. */
function barsThatFit(sheet: Sheet, widthPt: number): number {
  const byBar = notesByBar(sheet);
  const counts = barNumbers(sheet).map((bar) => new Set((byBar.get(bar) ?? []).map((n) => n.tick)).size);
  const sorted = [...counts].sort((a, b) => a - b);
  const typical = sorted[Math.floor(sorted.length * 0.9)] ?? 4;
  const onsetPt = 12; // room for a two-figure fret and a letter under it
  return Math.max(1, Math.min(8, Math.floor((widthPt - 30) / Math.max(60, typical * onsetPt + 10))));
}

/** @param notation with the five-line staff above the tab */
export function engraveSystems(
  sheet: Sheet,
  deps: HandoutDeps,
  widthPt: number,
  notation: boolean,
): EngravedSystem[] {
  const bars = barNumbers(sheet);
  const sections = new Set(sheet.form.map((part) => part.bars[0] ?? -1));
  const starts = systemStarts(bars, sections, barsThatFit(sheet, widthPt));
  const xml = musicXmlText(sheet, {
    notationStaff: notation,
    print: { breakBeforeBars: new Set(starts.slice(1)) },
  });
  const scale = STAFF_SPACE_PT / STAFF_SPACE_UNITS;
  const pages = deps.engrave(xml, {
    pageWidth: Math.round(widthPt / scale / 10),
    pageHeight: 4000,
    scale: 100,
    unit: 9,
    adjustPageHeight: true,
    breaks: "encoded",
    header: "none",
    footer: "none",
    mnumInterval: 0,
    pageMarginLeft: 0,
    pageMarginRight: 0,
    pageMarginTop: 0,
    pageMarginBottom: 0,
    minLastJustification: 0,
    svgViewBox: true,
    spacingStaff: 9,
    spacingLinear: 0.3,
    spacingNonLinear: 0.55,
    tupletNumHead: false,
  });
  const family = deps.fonts.find((f) => f.face === "sans-bold")?.family ?? "sans-serif";
  return pages.map((page, idx) => {
    const from = starts[idx] ?? 1;
    const until = starts[idx + 1] ?? Number.POSITIVE_INFINITY;
    return readSystem(
      page,
      sheet,
      bars.filter((b) => b >= from && b < until),
      scale,
      notation,
      idx,
      family,
    );
  });
}

function readSystem(
  page: string,
  sheet: Sheet,
  bars: number[],
  scale: number,
  notation: boolean,
  systemIdx: number,
  family: string,
): EngravedSystem {
  const root = parseSvg(page);
  const ink = { prefix: `s${systemIdx}-`, family };
  const noteById = new Map<string, SheetNote>();
  for (const note of sheet.notes) noteById.set(printId(note, true), note);
  let margin: SvgElement | undefined;
  const defs: string[] = [];
  for (const { element } of walkSvg(root)) {
    if (hasClass(element, "page-margin")) margin = element;
    if (element.name === "defs") for (const child of element.children) defs.push(markup(child, ink));
  }
  if (!margin) throw new Error("the engraver drew no page");
  const offset = /translate\(\s*([-\d.]+)[ ,]+([-\d.]+)/.exec(margin.attributes.transform ?? "");
  const dx = Number(offset?.[1] ?? 0);
  const dy = Number(offset?.[2] ?? 0);
  const toX = (x: number): number => (x + dx) * scale;
  const toY = (y: number): number => (y + dy) * scale;

  const notes: PlacedInk[] = [];
  const barBoxes: EngravedSystem["bars"] = [];
  const tabYs: number[] = [];
  for (const { element, ancestors } of walkSvg(margin)) {
    if (hasClass(element, "measure")) {
      const staffs = element.children.filter((c) => hasClass(c, "staff"));
      const tab = staffs.at(-1);
      const xs: number[] = [];
      for (const child of tab?.children ?? []) {
        const line =
          child.name === "path"
            ? /^M([-\d.]+) ([-\d.]+) L([-\d.]+) ([-\d.]+)$/.exec(child.attributes.d ?? "")
            : null;
        if (!line) continue;
        xs.push(Number(line[1]), Number(line[3]));
        tabYs.push(Number(line[2]));
      }
      const bar = bars[barBoxes.length];
      if (bar !== undefined) barBoxes.push({ bar, x0: toX(Math.min(...xs)), x1: toX(Math.max(...xs)) });
    }
    const note = hasClass(element, "note") ? noteById.get(element.attributes.id ?? "") : undefined;
    if (note && ancestors.some((a) => hasClass(a, "tabGrp"))) {
      const text = element.children.find((c) => c.name === "text");
      if (text) notes.push({ note, x: toX(Number(text.attributes.x)), y: toY(Number(text.attributes.y)) });
    }
  }
  const kept = withoutTabText(margin, notation);
  const extent = yExtent(kept);
  const body = kept.children.map((c) => markup(c, ink)).join("");
  const svg = `<defs>${defs.join("")}</defs><g transform="scale(${scale.toFixed(6)}) translate(${num(dx)},${num(dy)})" stroke="#211d19" fill="#211d19" stroke-width="0">${body}</g>`;
  return {
    svg,
    top: toY(extent[0]),
    bottom: toY(extent[1]),
    tabTop: toY(Math.min(...tabYs)),
    tabBottom: toY(Math.max(...tabYs)),
    bars: barBoxes,
    notes: notes.sort(
      (a, b) => a.note.bar - b.note.bar || a.note.tick - b.note.tick || b.note.string - a.note.string,
    ),
  };
}

/** The drawing without fret numbers (set anew by the page) and, under a notation staff, without the tab's own stems. */
function withoutTabText(element: SvgElement, notation: boolean, inTab = false): SvgElement {
  const tab = inTab || hasClass(element, "tabGrp");
  const children: SvgElement[] = [];
  for (const child of element.children) {
    if (tab && child.name === "text") continue;
    if (child.name === "ellipse" && hasClass(element, "tabDurSym")) {
      // The engraver sets a stem's dot on the highest string, under its fret: beside the stem it can be seen.
      const { cx = "0", cy = "0", rx = "0", ...rest } = child.attributes;
      const r = String(Number(rx) * DOT_SCALE);
      const lifted = { ...rest, cx, cy: String(Number(cy) - DOT_LIFT_UNITS), rx: r, ry: r };
      children.push({ ...child, attributes: lifted });
      continue;
    }
    if (notation && hasClass(child, "tabDurSym")) continue;
    if (notation && hasClass(child, "beam") && child.children.some((c) => hasClass(c, "tabGrp"))) {
      children.push(
        withoutTabText(
          { ...child, children: child.children.filter((c) => c.name !== "polygon") },
          notation,
          tab,
        ),
      );
      continue;
    }
    if (["label", "labelAbbr", "mNum"].some((name) => hasClass(child, name))) continue;
    if (notation && inTabStaff(element) && hasClass(child, "meterSig")) continue; // it stands in the staff above
    children.push(withoutTabText(child, notation, tab));
  }
  return { ...element, children };
}

/** Is this group, or the layer in it, a staff with tab? */
const inTabStaff = (element: SvgElement): boolean => {
  for (const { element: e } of walkSvg(element)) if (hasClass(e, "tabGrp")) return true;
  return false;
};

/** The engraver adds random letters to its glyphs' ids; without them the same sheet gives the same bytes. */
const glyph = (id: string): string => id.replace(/-.*$/, "");

/** How drawings are named and set: a prefix for the ids of one system, the font family of its few words. */
type Ink = { prefix: string; family: string };

/** The engraver's number of an ending is larger than the music: set to this, in its units. */
const ENDING_SIZE_UNITS = 400;

function markup(element: SvgElement, ink: Ink): string {
  const attributes: string[] = [];
  for (const [key, value] of Object.entries(element.attributes)) {
    if (key === "class" || key.startsWith("data-") || (key === "id" && element.name !== "g")) continue;
    if (key === "id" && !/^E[0-9A-F]{3}/.test(value)) continue; // only glyphs are drawn by reference
    if (key === "id") attributes.push(`id="${ink.prefix}${glyph(value)}"`);
    else if (key === "xlink:href" || key === "href")
      attributes.push(`xlink:href="#${ink.prefix}${glyph(value.replace(/^#/, ""))}"`);
    else if (key === "font-size" && Number.parseFloat(value) > ENDING_SIZE_UNITS)
      attributes.push(`font-size="${ENDING_SIZE_UNITS}px"`);
    else attributes.push(`${key}="${value}"`);
  }
  if (element.name === "text") attributes.push(`font-family="${ink.family}"`);
  // Lines have a stroke of their own; solid shapes get none, which keeps them as thin as they were drawn.
  const inner = element.children.map((c) => markup(c, ink)).join("") + escapeXml(element.text);
  const head = [element.name, ...attributes].join(" ");
  return inner === "" ? (element.name === "g" ? "" : `<${head}/>`) : `<${head}>${inner}</${element.name}>`;
}

function yExtent(element: SvgElement): [number, number] {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  const see = (y: number): void => {
    low = Math.min(low, y);
    high = Math.max(high, y);
  };
  for (const { element: e } of walkSvg(element)) {
    if (e.name === "path" && !/[a-z]/.test((e.attributes.d ?? "").replace(/e/g, "")))
      for (const pair of (e.attributes.d ?? "").matchAll(/([-\d.]+)[ ,]+([-\d.]+)/g)) see(Number(pair[2]));
    if (e.name === "polygon")
      for (const pair of (e.attributes.points ?? "").matchAll(/([-\d.]+),([-\d.]+)/g)) see(Number(pair[2]));
    const at =
      e.name === "use" ? /translate\(\s*([-\d.]+)[ ,]+([-\d.]+)/.exec(e.attributes.transform ?? "") : null;
    if (at) {
      see(Number(at[2]) - STAFF_SPACE_UNITS);
      see(Number(at[2]) + STAFF_SPACE_UNITS / 2);
    }
    if (e.name === "text" && e.attributes.y) see(Number(e.attributes.y));
  }
  return [low, high];
}
