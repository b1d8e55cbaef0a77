/** The sheet as it is to be played: repeats unfolded, notes gathered into events (what is plucked at one moment).
 * In: Sheet. Out: Score, events in playing order with ticks from the start of bar 1.
 * Ties are not plucked and dead notes have no pitch: neither is asked of the recording. */
import type { Sheet } from "../sheet/sheet.js";

/** As in grid/grid.ts (types only may come from there); a test holds the two equal. */
export const TICKS_A_BEAT = 24;

/** What is plucked together. @property pass which time through this bar, from 1 @property startTick from bar 1 beat 1 of the unfolded music */
export type WrittenEvent = {
  barIdx: number;
  bar: number;
  pass: number;
  tick: number;
  startTick: number;
  noteIdxs: number[];
  midis: number[];
};

/** One bar in playing order. Events firstEvent … endEvent − 1 lie in it; contentKey is equal for bars with the same notes at the same ticks. */
export type PlayedBar = {
  bar: number;
  pass: number;
  startTick: number;
  lengthTicks: number;
  firstEvent: number;
  endEvent: number;
  contentKey: string;
};

/** @property hasRhythm false when the tab says only the order of the notes */
export type Score = { events: WrittenEvent[]; bars: PlayedBar[]; hasRhythm: boolean };

/** Bars in the order in which the repeats have them played, from the first (0 when there is a pick-up) to the last. */
export function barOrder(sheet: Sheet): number[] {
  const lastBar = Math.max(sheet.grid.barCount, ...sheet.notes.map((n) => n.bar), 0);
  const firstBar = sheet.notes.some((n) => n.bar === 0) ? 0 : 1;
  const repeats = [...sheet.repeats].sort((a, b) => a.fromBar - b.fromBar);
  const order: number[] = [];
  let bar = firstBar;
  for (const repeat of repeats) {
    if (repeat.fromBar < bar || repeat.times < 2) continue; // nested or idle repeats are played once
    while (bar < repeat.fromBar) order.push(bar++);
    const endingBars = repeat.endings.flatMap((e) => e.bars);
    const end = Math.min(lastBar, Math.max(repeat.toBar, ...endingBars));
    for (let time = 1; time <= repeat.times; time++)
      for (let b = repeat.fromBar; b <= end; b++) {
        const endings = repeat.endings.filter((e) => e.bars.includes(b));
        if (endings.length === 0 || endings.some((e) => e.times.includes(time))) order.push(b);
      }
    bar = end + 1;
  }
  while (bar <= lastBar) order.push(bar++);
  return order;
}

/** The playing order of a sheet. A tab without rhythm gives each column its place in order only. */
export function unfoldSheet(sheet: Sheet): Score {
  const hasRhythm = sheet.rhythm !== "none";
  const barTicks = sheet.grid.meter.beats * TICKS_A_BEAT;
  const byBar = new Map<number, Map<number, number[]>>();
  sheet.notes.forEach((note, noteIdx) => {
    if (note.marks.includes("tie") || note.marks.includes("dead")) return;
    const ticks = byBar.get(note.bar) ?? new Map<number, number[]>();
    byBar.set(note.bar, ticks);
    ticks.set(note.tick, [...(ticks.get(note.tick) ?? []), noteIdx]);
  });
  const pickupTicks = sheet.grid.pickupBeats * TICKS_A_BEAT;
  const events: WrittenEvent[] = [];
  const bars: PlayedBar[] = [];
  const passes = new Map<number, number>();
  let startTick = 0;
  for (const bar of barOrder(sheet)) {
    const pass = (passes.get(bar) ?? 0) + 1;
    passes.set(bar, pass);
    const ticks = [...(byBar.get(bar) ?? new Map<number, number[]>()).entries()].sort((a, b) => a[0] - b[0]);
    const lastTick = ticks.at(-1)?.[0] ?? 0;
    // A pick-up may count its ticks from its own start or from the start of a whole bar.
    const lengthTicks = bar === 0 && lastTick < pickupTicks ? pickupTicks : Math.max(barTicks, lastTick + 1);
    const firstEvent = events.length;
    for (const [tick, noteIdxs] of ticks)
      events.push({
        barIdx: bars.length,
        bar,
        pass,
        tick,
        startTick: startTick + tick,
        noteIdxs,
        midis: [...new Set(noteIdxs.map((i) => sheet.notes[i]?.midi ?? 0))].sort((a, b) => a - b),
      });
    const contentKey = events
      .slice(firstEvent)
      .map((e) => `${e.tick}:${e.midis.join(".")}`)
      .join(" ");
    bars.push({ bar, pass, startTick, lengthTicks, firstEvent, endEvent: events.length, contentKey });
    startTick += lengthTicks;
  }
  return { events, bars, hasRhythm };
}

/** Swing written as straight: the second half of each divided beat comes later by the ratio long : short. */
export function swungTick(tick: number, sheet: Sheet): number {
  if (sheet.grid.feel !== "swing" || sheet.grid.swingRatio <= 1) return tick;
  const long = sheet.grid.swingRatio / (1 + sheet.grid.swingRatio);
  const beat = Math.floor(tick / TICKS_A_BEAT);
  const share = tick / TICKS_A_BEAT - beat;
  const warped = share < 0.5 ? share * 2 * long : long + (share - 0.5) * 2 * (1 - long);
  return (beat + warped) * TICKS_A_BEAT;
}
