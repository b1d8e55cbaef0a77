/** Repeats from the bar lines "|:" and ":|" of a tab, where no header says them. */
import type { Repeat } from "./sheet.js";
import type { Stretch } from "./tab-lines.js";

/** @param bars in order, with the bar lines around them @returns plain repeats, played twice; a ":|" without "|:" goes back to the last repeat's end or bar 1 */
export function bodyRepeats(bars: readonly { bar: number; stretch: Stretch }[]): Repeat[] {
  const repeats: Repeat[] = [];
  let fromBar = bars.find((b) => b.bar >= 1)?.bar ?? 1;
  for (const { bar, stretch } of bars) {
    if (stretch.before.endsWith(":") && bar >= 1) fromBar = bar;
    if (stretch.after.startsWith(":") && bar >= 1) {
      repeats.push({ fromBar, toBar: bar, times: 2, endings: [] });
      fromBar = bar + 1;
    }
  }
  return repeats;
}
