/** Where the columns of a bar stand in the text sheet. In: a sheet, a bar. Out: columns with their ticks, characters and width.
 * Every onset and chord has a column of its own; the columns of a beat divide it evenly, so that the count gives every place to the tick. */
import { BEAT_TICKS, barTicks, isGrace, plainLength } from "./bar-time.js";
import { countSign, divisionsOfBar } from "./count-row.js";
import type { Sheet, SheetChord, SheetNote } from "./sheet.js";
import { isUnsure, type Token, writeToken } from "./token.js";

/** A string's sign at a place: a token or a stop. */
type Cell = { string: number; tick: number; token: Token };
/** @property ticks of the columns, in the bar's own ticks @property at characters from the bar's first
 * @property offset ticks of a full bar before the pick-up begins, else 0 */
export type BarLayout = {
  bar: number;
  offset: number;
  ticks: number[];
  at: number[];
  width: number;
  cells: Cell[];
  lengths: SheetNote[];
  notes: SheetNote[];
  chords: { tick: number; text: string }[];
  signs: string[];
  heading: string;
};

/** Chord symbols as they stand in their row, by tick; the later of two at one place is left out. */
function chordsOfBar(sheet: Sheet, bar: number, ticksOfBar: number): BarLayout["chords"] {
  const byTick = new Map<number, string>();
  const textOf = (chord: SheetChord): string =>
    (chord.symbol.replace(/\s+/g, "").replace(/\?+$/, "") || "N.C.") + (isUnsure(chord) ? "?" : "");
  for (const chord of sheet.chords) {
    if (chord.bar !== bar) continue;
    const tick = Math.max(0, Math.min(ticksOfBar - 1, Math.round((chord.beat - 1) * BEAT_TICKS)));
    if (!byTick.has(tick)) byTick.set(tick, textOf(chord));
  }
  return [...byTick].map(([tick, text]) => ({ tick, text })).sort((a, b) => a.tick - b.tick);
}

/** What stands over a bar: its number, the part that begins there, endings, how often it is played. */
function headingOf(sheet: Sheet, bar: number): string {
  const parts = [bar === 0 ? "0" : String(bar)];
  for (const part of sheet.form) if (part.bars[0] === bar && part.label) parts.push(`[${part.label.trim()}]`);
  for (const repeat of sheet.repeats) {
    for (const ending of repeat.endings) if (ending.bars[0] === bar) parts.push(`${ending.times.join(",")}.`);
    if (repeat.toBar === bar && repeat.times > 2) parts.push(`x${repeat.times}`);
  }
  return parts.join(" ").replace(/\s+/g, " ");
}

/** Lays out one bar. @param notes of that bar, in sheet order */
export function layoutBar(sheet: Sheet, bar: number, notes: readonly SheetNote[]): BarLayout {
  const ticksOfBar = barTicks(sheet, bar);
  const offset = bar === 0 ? sheet.grid.meter.beats * BEAT_TICKS - ticksOfBar : 0;
  const chords = chordsOfBar(sheet, bar, ticksOfBar);
  const tokens = tokenCells(notes);

  const ticksByBeat = Array.from({ length: sheet.grid.meter.beats }, () => new Set<number>());
  for (const tick of [0, ...tokens.map((c) => c.tick), ...chords.map((c) => c.tick)]) {
    const full = tick + offset;
    ticksByBeat[Math.floor(full / BEAT_TICKS)]?.add(full % BEAT_TICKS);
  }
  const firstBeat = Math.floor(offset / BEAT_TICKS);
  const divisions = divisionsOfBar(ticksByBeat.slice(firstBeat), sheet.grid.meter.unit);
  const ticks: number[] = [];
  const signs: string[] = [];
  for (const [idx, division] of divisions.entries())
    for (let k = 0; k < division; k++) {
      const within = (k * BEAT_TICKS) / division;
      const full = (firstBeat + idx) * BEAT_TICKS + within;
      if (full < offset) continue;
      ticks.push(full - offset);
      signs.push(within === 0 ? String(firstBeat + idx + 1) : countSign(within));
    }

  const { stops, lengths } = lengthSigns(notes, ticksOfBar, new Set(ticks));
  const cells = [...tokens, ...stops];
  const columnOf = new Map(ticks.map((tick, column) => [tick, column]));
  const space = spaceOf(cells, chords, signs, columnOf, Math.max(...divisions));
  const heading = headingOf(sheet, bar);
  const at = ticks.map((_, column) => space.lead + column * space.cell);
  const width = Math.max(space.lead + ticks.length * space.cell, heading.length + 2);
  return {
    bar,
    offset,
    ticks,
    at,
    width,
    cells,
    lengths,
    notes: [...notes],
    chords,
    signs,
    heading,
  };
}

/** The tokens of a bar, by string and place. */
function tokenCells(notes: readonly SheetNote[]): Cell[] {
  const cells: Cell[] = [];
  for (let string = 6; string >= 1; string--) {
    const onString = notes.filter((n) => n.string === string);
    let fretBefore: number | undefined;
    for (const tick of new Set(onString.map((n) => n.tick))) {
      const all = onString.filter((n) => n.tick === tick);
      const main = all.find((n) => !isGrace(n));
      const here = [...all.filter(isGrace), ...(main ? [main] : [])];
      cells.push({ string, tick, token: writeToken(here, fretBefore) });
      fretBefore = here.at(-1)?.fret;
    }
  }
  return cells;
}

/** Lengths that differ from the plain one: a stop where the note ends in a column, else words. */
function lengthSigns(
  notes: readonly SheetNote[],
  ticksOfBar: number,
  columnTicks: ReadonlySet<number>,
): { stops: Cell[]; lengths: SheetNote[] } {
  const stops: Cell[] = [];
  const lengths: SheetNote[] = [];
  for (const note of notes) {
    const onString = notes.filter((n) => n.string === note.string);
    const plain = plainLength(note, onString, ticksOfBar);
    if (note.lengthTicks === plain) continue;
    const end = note.tick + note.lengthTicks;
    const isFree = !onString.some((n) => n.tick === end);
    if (!isGrace(note) && note.lengthTicks < plain && columnTicks.has(end) && isFree)
      stops.push({ string: note.string, tick: end, token: { text: ".", anchor: 0 } });
    else lengths.push(note);
  }
  return { stops, lengths };
}

/** Characters before the first column, and of one column. */
function spaceOf(
  cells: readonly Cell[],
  chords: readonly { tick: number; text: string }[],
  signs: readonly string[],
  columnOf: ReadonlyMap<number, number>,
  division: number,
): { lead: number; cell: number } {
  let lead = 1;
  let cell = division >= 4 ? 2 : division === 1 ? 4 : 3;
  for (const sign of signs) cell = Math.max(cell, sign.length + 1);
  const heads = new Map<string, number>();
  for (const { string, tick, token } of cells) heads.set(`${string} ${columnOf.get(tick)}`, token.anchor);
  for (const { string, tick, token } of cells) {
    const column = columnOf.get(tick) ?? 0;
    if (column === 0) lead = Math.max(lead, token.anchor + 1);
    const tail = token.text.length - token.anchor;
    cell = Math.max(cell, tail + 1 + (heads.get(`${string} ${column + 1}`) ?? 0), token.anchor + 2);
  }
  for (const [idx, chord] of chords.entries()) {
    const column = columnOf.get(chord.tick) ?? 0;
    const next = chords[idx + 1];
    const free = (next ? (columnOf.get(next.tick) ?? 0) : signs.length) - column;
    cell = Math.max(cell, Math.ceil((chord.text.length + 1) / Math.max(1, free)));
  }
  return { lead, cell };
}
