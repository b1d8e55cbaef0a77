/** The grips really played: which strings and frets each chord of the sheet uses, and its box. Frets count from the capo. */
import type { LeftFinger } from "../hands/fretted.js";
import type { Sheet, SheetNote } from "../sheet/sheet.js";
import { type BoxPlace, fingersOfBox } from "./box-fingers.js";
import { COLORS, type Pen, withSigns } from "./ink.js";
import { barsLabel } from "./panels.js";

/** A shape held under one chord name. places by string; `bars` where it is played. */
export type PlayedGrip = {
  symbol: string;
  places: Map<number, { fret: number; finger: LeftFinger | undefined }>;
  bars: number[];
};

/** A grip on its way: every note that was plucked in it, by string. */
type Gathered = { symbol: string; notes: Map<number, SheetNote[]>; bars: number[] };

/** Grips in the order they are first played. Spans of one chord name whose strings agree are one grip; a span that contradicts
 * opens a second one, and shapes that hold a subset of another of the same name are merged into it. */
export function playedGrips(sheet: Sheet): PlayedGrip[] {
  const beats = sheet.grid.meter.beats;
  const place = (bar: number, beat: number): number => bar * beats + beat - 1;
  const chords = [...sheet.chords].sort((a, b) => place(a.bar, a.beat) - place(b.bar, b.beat));
  const grips: Gathered[] = [];
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
      const shape = shapeOf(notes.filter((n) => n.bar === bar));
      if (shape.size < (FIFTH.test(chord.symbol) ? 2 : 3)) continue;
      const same = grips.find((g) => g.symbol === chord.symbol && agrees(g.notes, shape));
      if (!same) grips.push({ symbol: chord.symbol, notes: shape, bars: [bar] });
      else {
        for (const [string, list] of shape)
          same.notes.set(string, [...(same.notes.get(string) ?? []), ...list]);
        if (!same.bars.includes(bar)) same.bars.push(bar);
      }
    }
  }
  return grips.map(({ symbol, notes, bars }) => ({ symbol, places: fingered(notes), bars }));
}

const FIFTH = /^[A-G][#b]?5(\/|$)/; // a chord of two notes; fewer than three strings are no grip of another
const MOST_ROWS = 5; // frets that a hand holds at once, common practice

/** For each string the notes of the fret plucked most often, the earlier at a tie; without what sounds shortest where one position
 * of the hand does not hold them all: that is a melody over the grip. */
function shapeOf(notes: readonly SheetNote[]): Gathered["notes"] {
  const shape: Gathered["notes"] = new Map();
  for (let string = 6; string >= 1; string--) {
    const byFret = new Map<number, SheetNote[]>();
    for (const note of notes) {
      if (note.string !== string || note.marks.includes("grace")) continue;
      byFret.set(note.fret, [...(byFret.get(note.fret) ?? []), note]);
    }
    const best = [...byFret.values()].sort((a, b) => b.length - a.length)[0];
    if (best) shape.set(string, best);
  }
  for (;;) {
    const held = [...shape].filter(([, [first]]) => first !== undefined && first.fret > 0);
    const frets = held.map(([, list]) => fretOf(list) ?? 0);
    if (Math.max(...frets) - Math.min(...frets) < MOST_ROWS) return shape;
    const isEdge = (fret: number): boolean => fret === Math.max(...frets) || fret === Math.min(...frets);
    const edges = held.filter(([, list]) => isEdge(fretOf(list) ?? 0));
    const lengthOf = (list: readonly SheetNote[]): number => list.reduce((sum, n) => sum + n.lengthTicks, 0);
    const shortest = edges.reduce((a, b) => (lengthOf(b[1]) < lengthOf(a[1]) ? b : a));
    shape.delete(shortest[0]);
  }
}

const fretOf = (notes: readonly SheetNote[] | undefined): number | undefined => notes?.[0]?.fret;

const agrees = (a: Gathered["notes"], b: Gathered["notes"]): boolean =>
  [...b].every(([string, notes]) => !a.has(string) || fretOf(a.get(string)) === fretOf(notes));

/** Each string's fret with the finger that holds it most often, a hand's word before the machine's, made one grip. */
function fingered(notes: Gathered["notes"]): PlayedGrip["places"] {
  const wanted = new Map<number, BoxPlace>();
  for (const [string, list] of [...notes].sort(([a], [b]) => b - a)) {
    const byHand = list.filter((n) => n.by === "hand" && n.leftFinger !== undefined);
    const asked = byHand.length > 0 ? byHand : list;
    const counts = new Map<LeftFinger | undefined, number>();
    for (const { leftFinger } of asked) counts.set(leftFinger, (counts.get(leftFinger) ?? 0) + 1);
    const finger = [...counts].sort((a, b) => b[1] - a[1])[0]?.[0];
    wanted.set(string, { fret: fretOf(list) ?? 0, finger, isHand: byHand.length > 0 });
  }
  const fingers = fingersOfBox(wanted);
  return new Map([...wanted].map(([string, { fret }]) => [string, { fret, finger: fingers.get(string) }]));
}

/** Width of a chord box with its name and bars. */
export const BOX_WIDTH_PT = 66;
const FRET_GAP_PT = 11.5;

/** Height of a grip's box with its name and bars. */
export const boxHeightPt = (grip: PlayedGrip): number => 45 + frame(grip).rows * FRET_GAP_PT;

/** Frets that a box shows: the lowest, and how many. */
function frame({ places }: PlayedGrip): { base: number; rows: number } {
  const frets = [...places.values()].map((p) => p.fret).filter((f) => f > 0);
  const highest = Math.max(0, ...frets);
  const base = highest <= 4 ? 1 : Math.min(...frets);
  return { base, rows: Math.max(4, highest - base + 1) };
}

/** Draws a grip with the name above and the bars below; x, y is the upper left corner.
 * @param widthPt of the place that the box has in its row, for the bars @param shape name of the grip as held at a capo, "" without one */
export function drawChordBox(
  pen: Pen,
  grip: PlayedGrip,
  x: number,
  y: number,
  widthPt: number,
  shape = "",
): void {
  const stringGap = 8.6;
  const fretGap = FRET_GAP_PT;
  const { base, rows } = frame(grip);
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
  const style = { face: "sans", sizePt: 7.4, color: COLORS.soft, anchor: "middle" } as const;
  const label = barsLabel(pen, grip.bars, style, Math.min(widthPt, BOX_WIDTH_PT) - 6);
  pen.text(x + BOX_WIDTH_PT / 2, top + rows * fretGap + 11, label, style);
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
