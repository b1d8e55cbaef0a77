import type { Study } from "./study.js";

/** The study as someone plays who skips or repeats bars: bar k of the result is bar `order[k − 1]` of the study;
 * a pick-up is not played.
 * Perform the result and check it against the sheet of the original. */
export function inOrder(study: Study, order: readonly number[]): Study {
  const moved = <T extends { bar: number }>(list: readonly T[]): T[] =>
    order.flatMap((bar, k) => list.filter((x) => x.bar === bar).map((x) => ({ ...x, bar: k + 1 })));
  const group = (groups: readonly number[]): number[] => order.map((bar) => groups[bar - 1] as number);
  const labelOf = (bar: number): string => study.form.find((f) => f.bars.includes(bar))?.label ?? "?";
  const form: Study["form"] = [];
  order.forEach((bar, k) => {
    const last = form.at(-1);
    const follows = k > 0 && order[k - 1] === bar - 1 && last?.label === labelOf(bar);
    if (follows) last.bars.push(k + 1);
    else form.push({ label: labelOf(bar), bars: [k + 1] });
  });
  return {
    ...study,
    pickupBeats: 0,
    barCount: order.length,
    notes: moved(study.notes),
    chords: moved(study.chords),
    patternBars: order.flatMap((bar, k) => (study.patternBars.includes(bar) ? [k + 1] : [])),
    form,
    groupOfBar: group(study.groupOfBar),
    kinOfBar: group(study.kinOfBar),
  };
}

/** Bars 1…n without those from `from` to `to`. */
export const skipping = (study: Study, from: number, to: number): number[] =>
  Array.from({ length: study.barCount }, (_, k) => k + 1).filter((bar) => bar < from || bar > to);

/** Bars 1…n with those from `from` to `to` played twice. */
export const repeating = (study: Study, from: number, to: number): number[] =>
  Array.from({ length: study.barCount }, (_, k) => k + 1).flatMap((bar) =>
    bar === to ? [bar, ...Array.from({ length: to - from + 1 }, (_, k) => from + k)] : [bar],
  );
