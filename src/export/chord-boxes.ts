/** The grips really played: which strings and frets each chord of the sheet uses, and its box. Frets count from the capo. */
import type { LeftFinger } from "../hands/fretted.js";
import type { Sheet, SheetNote } from "../sheet/sheet.js";
import { COLORS, type Pen, withSigns } from "./ink.js";

/** A shape held under one chord name. places by string; `bars` where it is played. */
export type PlayedGrip = {
  symbol: string;
  places: Map<number, { fret: number; finger: LeftFinger | undefined }>;
  bars: number[];
};

/** Grips in the order they are first played. Spans of one chord name whose strings agree are one grip; a span that contradicts
 * opens a second one, and shapes that hold a subset of another of the same name are merged into it. */
export function playedGrips(sheet: Sheet): PlayedGrip[] {
  const beats = sheet.grid.meter.beats;
  const place = (bar: number, beat: number): number => bar * beats + beat - 1;
  const chords = [...sheet.chords].sort((a, b) => place(a.bar, a.beat) - place(b.bar, b.beat));
  const grips: PlayedGrip[] = [];
  for (const [idx, chord] of chords.entries()) {
    if (!/^[A-G]/.test(chord.symbol)) continue;
    const from = place(chord.bar, chord.beat);
    const next = chords[idx + 1];
    const until = next ? place(next.bar, next.beat) : Number.POSITIVE_INFINITY;
    const notes = sheet.notes.filter((n) => {
      const at = place(n.bar, 1 + n.tick / 24);
      return at >= from - 1e-6 && at < until - 1e-6;
    });
    // A chord that lasts is read bar by bar, so that a melody over it does not blur the shape.
    for (const bar of new Set(notes.map((n) => n.bar))) {
      const places = shapeOf(notes.filter((n) => n.bar === bar));
      if (places.size < 2) continue;
      const same = grips.find((g) => g.symbol === chord.symbol && agrees(g.places, places));
      if (!same) grips.push({ symbol: chord.symbol, places, bars: [bar] });
      else {
        for (const [string, p] of places) if (!same.places.has(string)) same.places.set(string, p);
        if (!same.bars.includes(bar)) same.bars.push(bar);
      }
    }
  }
  return grips;
}

/** For each string the fret plucked most often, the earlier at a tie. */
function shapeOf(notes: readonly SheetNote[]): PlayedGrip["places"] {
  const places: PlayedGrip["places"] = new Map();
  for (let string = 6; string >= 1; string--) {
    const counts = new Map<number, { count: number; note: SheetNote }>();
    for (const note of notes) {
      if (note.string !== string || note.marks.includes("grace")) continue;
      const known = counts.get(note.fret);
      if (known) known.count++;
      else counts.set(note.fret, { count: 1, note });
    }
    const best = [...counts.values()].sort((a, b) => b.count - a.count)[0];
    if (best) places.set(string, { fret: best.note.fret, finger: best.note.leftFinger });
  }
  return places;
}

const agrees = (a: PlayedGrip["places"], b: PlayedGrip["places"]): boolean =>
  [...b].every(([string, p]) => !a.has(string) || a.get(string)?.fret === p.fret);

/** Width and height of a chord box with its name and bars. */
export const BOX_WIDTH_PT = 66;
export const BOX_HEIGHT_PT = 99;

/** Draws a grip with the name above and the bars below; x, y is the upper left corner.
 * @param shape name of the grip as held at a capo, "" without one */
export function drawChordBox(
  pen: Pen,
  grip: PlayedGrip,
  x: number,
  y: number,
  bars: string,
  shape = "",
): void {
  const stringGap = 8.6;
  const fretGap = 11.5;
  const frets = [...grip.places.values()].map((p) => p.fret).filter((f) => f > 0);
  const highest = Math.max(0, ...frets);
  const base = highest <= 4 ? 1 : Math.min(...frets);
  const rows = Math.max(4, highest - base + 1);
  const left = x + (BOX_WIDTH_PT - 5 * stringGap) / 2;
  const top = y + 32;
  const stringX = (string: number): number => left + (6 - string) * stringGap;
  pen.text(x + BOX_WIDTH_PT / 2, y + (shape === "" ? 13 : 10), withSigns(grip.symbol), {
    face: "serif-bold",
    sizePt: 14,
    anchor: "middle",
  });
  if (shape !== "")
    pen.text(x + BOX_WIDTH_PT / 2, y + 19.5, `${withSigns(shape)} shape`, {
      face: "sans",
      sizePt: 7.4,
      color: COLORS.accent,
      anchor: "middle",
    });
  for (let row = 0; row <= rows; row++)
    pen.line(
      left - 0.35,
      top + row * fretGap,
      left + 5 * stringGap + 0.35,
      top + row * fretGap,
      COLORS.ink,
      row === 0 && base === 1 ? 2.2 : 0.5,
    );
  for (let string = 6; string >= 1; string--)
    pen.line(
      stringX(string),
      top,
      stringX(string),
      top + rows * fretGap,
      COLORS.ink,
      0.5 + (string - 1) * 0.07,
    );
  if (base > 1)
    pen.text(left - 6, top + fretGap * 0.72, String(base), { face: "sans-bold", sizePt: 8, anchor: "end" });
  for (let string = 6; string >= 1; string--) {
    const p = grip.places.get(string);
    const cx = stringX(string);
    if (!p) {
      pen.line(cx - 2, top - 7, cx + 2, top - 3, COLORS.soft, 0.8);
      pen.line(cx - 2, top - 3, cx + 2, top - 7, COLORS.soft, 0.8);
    } else if (p.fret === 0) pen.circle(cx, top - 5, 2.3, "none", COLORS.ink, 0.8);
  }
  for (const finger of [1, 2, 3, 4] as const) drawBarre(pen, grip, finger, base, stringX, top, fretGap);
  for (const [string, p] of grip.places) {
    if (p.fret === 0) continue;
    const cy = top + (p.fret - base + 0.5) * fretGap;
    pen.circle(stringX(string), cy, 4.1, COLORS.ink);
    if (p.finger !== undefined && p.finger > 0)
      pen.text(stringX(string), cy + 2.4, String(p.finger), {
        face: "sans-bold",
        sizePt: 7,
        color: "#ffffff",
        anchor: "middle",
      });
  }
  pen.text(x + BOX_WIDTH_PT / 2, top + rows * fretGap + 11, bars, {
    face: "sans",
    sizePt: 7.4,
    color: COLORS.soft,
    anchor: "middle",
  });
}

function drawBarre(
  pen: Pen,
  grip: PlayedGrip,
  finger: number,
  base: number,
  stringX: (s: number) => number,
  top: number,
  fretGap: number,
): void {
  const held = [...grip.places].filter(([, p]) => p.finger === finger && p.fret > 0);
  const first = held[0];
  if (held.length < 2 || !first || held.some(([, p]) => p.fret !== first[1].fret)) return;
  const strings = held.map(([s]) => s);
  const cy = top + (first[1].fret - base + 0.5) * fretGap;
  pen.line(stringX(Math.max(...strings)), cy, stringX(Math.min(...strings)), cy, COLORS.ink, 4.4);
}
