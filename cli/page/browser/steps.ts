/** Where the caret goes: to the next step or the next note, whichever is nearer; to unsure notes; to bars that differ. */
import { type Caret, type Model, notesOfBar, verdictOf } from "./model.js";

/** The next stop after (or before) the caret in time. */
export function stepFrom(model: Model, caret: Caret, way: 1 | -1): Caret {
  const { bars } = model.state.sheet;
  const at = bars.findIndex((b) => b.bar === caret.bar);
  const bar = bars[at];
  if (!bar) return caret;
  const stops = stopsOf(model, bar.bar, bar.ticks);
  const next = way > 0 ? stops.find((t) => t > caret.tick) : stops.findLast((t) => t < caret.tick);
  if (next !== undefined) return { ...caret, tick: next };
  const other = bars[at + way];
  if (!other) return caret;
  return {
    ...caret,
    bar: other.bar,
    tick: way > 0 ? 0 : (stopsOf(model, other.bar, other.ticks).at(-1) ?? 0),
  };
}

function stopsOf(model: Model, bar: number, ticks: number): number[] {
  const stops = new Set(notesOfBar(model, bar).map((n) => n.tick));
  for (let tick = 0; tick < ticks; tick += model.stepTicks) stops.add(tick);
  return [...stops].sort((a, b) => a - b);
}

export function barFrom(model: Model, caret: Caret, way: 1 | -1): Caret {
  const { bars } = model.state.sheet;
  const at = bars.findIndex((b) => b.bar === caret.bar);
  if (way < 0 && caret.tick > 0) return { ...caret, tick: 0 };
  return { ...caret, bar: bars[at + way]?.bar ?? caret.bar, tick: 0 };
}

/** The next unsure note after the caret, round the end to the beginning. */
export function unsureFrom(model: Model, caret: Caret, way: 1 | -1): Caret | undefined {
  const unsure = model.state.sheet.notes.filter((n) => n.isUnsure);
  const order = (c: Caret): number => (c.bar * 10_000 + c.tick) * 8 + (6 - c.string);
  const here = order(caret);
  const found =
    way > 0
      ? (unsure.find((n) => order(n) > here) ?? unsure[0])
      : (unsure.findLast((n) => order(n) < here) ?? unsure.at(-1));
  return found && { bar: found.bar, tick: found.tick, string: found.string };
}

/** The next bar that differs from the recording, or that the check is unsure of. */
export function differingFrom(model: Model, caret: Caret, way: 1 | -1): Caret | undefined {
  const bars = model.state.sheet.bars
    .map((b) => b.bar)
    .filter((bar) => ["differs", "unsure"].includes(verdictOf(model, bar) ?? ""));
  const bar =
    way > 0
      ? (bars.find((b) => b > caret.bar) ?? bars[0])
      : (bars.findLast((b) => b < caret.bar) ?? bars.at(-1));
  return bar === undefined ? undefined : { ...caret, bar, tick: 0 };
}
