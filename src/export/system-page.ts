/** What the page prints on and around an engraved system: fret numbers, picking letters, chords, section letters, bar numbers. */
import type { Sheet } from "../sheet/sheet.js";
import { chordsByBar } from "./bars.js";
import { COLORS, type Pen, type TextStyle, withSigns } from "./ink.js";
import type { EngravedSystem, PlacedInk } from "./systems.js";

const CHORD_ROW_PT = 17;
const LETTER_ROW_PT = 9;

const onsetKey = (p: PlacedInk): number => p.note.bar * 10000 + p.note.tick;

/** Notes struck at one place of the system. */
function onsets(system: EngravedSystem): PlacedInk[][] {
  const groups = new Map<number, PlacedInk[]>();
  for (const placed of system.notes) {
    const list = groups.get(onsetKey(placed));
    if (list) list.push(placed);
    else groups.set(onsetKey(placed), [placed]);
  }
  return [...groups.values()];
}

/** Letters of one onset, the highest string first; a pinch stacks them, a stroke of one finger over several strings has its letter once. */
function lettersOf(group: readonly PlacedInk[]): string[] {
  const letters = [...group]
    .sort((a, b) => a.note.string - b.note.string)
    .filter(
      (p) =>
        p.note.finger !== undefined &&
        !p.note.marks.some((m) => m === "tie" || m === "hammer-on" || m === "pull-off"),
    )
    .map((p) => p.note.finger ?? "");
  const [first] = letters;
  return first !== undefined && letters.length > 2 && letters.every((l) => l === first) ? [first] : letters;
}

const letterRows = (system: EngravedSystem): number =>
  Math.max(0, ...onsets(system).map((group) => lettersOf(group).length));

/** Height that the system takes on the page, chord row above and letters below included. */
export function systemHeight(system: EngravedSystem, _sheet: Sheet): number {
  const below = system.tabBottom + 8 + letterRows(system) * LETTER_ROW_PT;
  return CHORD_ROW_PT + Math.max(system.bottom, below) - system.top;
}

/** Draws the system with its marks; y is the top of the chord row. */
export function drawSystem(pen: Pen, sheet: Sheet, system: EngravedSystem, x: number, y: number): void {
  const dy = y + CHORD_ROW_PT - system.top;
  pen.raw(`<g transform="translate(${x.toFixed(2)},${dy.toFixed(2)})">${system.svg}</g>`);
  drawFrets(pen, system, x, dy);
  const chordY = y + CHORD_ROW_PT - 5;
  drawChords(pen, sheet, system, x, chordY);
  for (const { bar, x0 } of system.bars) {
    const part = sheet.form.find((p) => p.bars[0] === bar);
    if (part?.label) {
      const w = Math.max(14, pen.width(part.label, { face: "serif-bold", sizePt: 11 }) + 7);
      pen.rect(
        x + x0 + (bar === system.bars[0]?.bar ? 0 : -w / 2),
        chordY - 11,
        w,
        14,
        COLORS.accent,
        undefined,
        2,
      );
      pen.text(x + x0 + (bar === system.bars[0]?.bar ? w / 2 : 0), chordY - 0.3, part.label, {
        face: "serif-bold",
        sizePt: 11,
        color: "#ffffff",
        anchor: "middle",
      });
    }
    if (bar > 0)
      pen.text(x + x0 + 1, dy + system.tabBottom + 9, String(bar), {
        face: "sans",
        sizePt: 6.8,
        color: COLORS.soft,
      });
  }
  const firstRowY = dy + system.tabBottom + 15;
  for (const group of onsets(system)) {
    for (const [row, letter] of lettersOf(group).entries())
      pen.text(x + (group[0]?.x ?? 0), firstRowY + row * LETTER_ROW_PT, letter, {
        face: "serif-italic",
        sizePt: 10,
        color: letter === "p" ? COLORS.accent : COLORS.ink,
        anchor: "middle",
      });
  }
}

function drawFrets(pen: Pen, system: EngravedSystem, x: number, dy: number): void {
  const gap = (system.tabBottom - system.tabTop) / 5;
  for (const { note, x: nx } of system.notes) {
    if (note.marks.includes("tie")) continue;
    const small = note.marks.includes("grace");
    const cy = dy + system.tabTop + (note.string - 1) * gap;
    const text = note.marks.includes("dead")
      ? "×"
      : note.marks.includes("harmonic")
        ? `‹${note.fret}›`
        : String(note.fret);
    pen.text(x + nx, cy + (small ? 2.2 : 3.2), text, {
      face: "sans-bold",
      sizePt: small ? 7 : 9.6,
      anchor: "middle",
    });
  }
}

/** Sizes of chord names: the smaller ones where many stand close. */
const CHORD_SIZES_PT = [13, 11.5, 10, 8.5, 7] as const;

type ChordInk = { x: number; text: string };

/** Draws the chord names over their notes, in the largest size in which all of them end with the line. */
function drawChords(pen: Pen, sheet: Sheet, system: EngravedSystem, x: number, chordY: number): void {
  const rightX = x + (system.bars.at(-1)?.x1 ?? 0);
  for (const [idx, sizePt] of CHORD_SIZES_PT.entries()) {
    const style = { face: "serif-bold", sizePt } as const;
    const placed = placeChords(pen, sheet, system, x, style);
    const last = placed.at(-1);
    const isWide = last !== undefined && last.x + pen.width(last.text, style) > rightX + 2;
    if (isWide && idx < CHORD_SIZES_PT.length - 1) continue;
    for (const chord of placed) pen.text(chord.x, chordY, chord.text, style);
    return;
  }
}

/** Chords from left to right, none over the one before it. */
function placeChords(
  pen: Pen,
  sheet: Sheet,
  system: EngravedSystem,
  x: number,
  style: TextStyle,
): ChordInk[] {
  const chords = chordsByBar(sheet);
  const barTicks = sheet.grid.meter.beats * 24;
  const placed: ChordInk[] = [];
  let lastEnd = Number.NEGATIVE_INFINITY;
  for (const { bar, x0, x1 } of system.bars) {
    for (const { tick, chord } of chords.get(bar) ?? []) {
      const at = system.notes.find((p) => p.note.bar === bar && p.note.tick >= tick);
      let cx = x + (at ? at.x - 4 : x0 + (tick / barTicks) * (x1 - x0) + 6);
      const hasLetter = sheet.form.some((p) => p.bars[0] === bar && p.label) && tick === 0;
      const clear = x + x0 + (bar === system.bars[0]?.bar ? 20 : 12);
      if (hasLetter && cx < clear) cx = clear;
      if (cx < lastEnd + 4) cx = lastEnd + 4;
      const text = withSigns(chord.symbol);
      placed.push({ x: cx, text });
      lastEnd = cx + pen.width(text, style);
    }
  }
  return placed;
}
