/** Beats and places as text: "2+1/2" is two and a half beats. Exact to the tick. */
import { BEAT_TICKS } from "./bar-time.js";

const gcd = (a: number, b: number): number => (b === 0 ? a : gcd(b, a % b));

/** A whole number of ticks in beats: "0", "1/2", "3", "3+2/3". @param ticks ≥ 0 */
export function beatsText(ticks: number): string {
  const whole = Math.floor(ticks / BEAT_TICKS);
  const rest = ticks - whole * BEAT_TICKS;
  if (rest === 0) return String(whole);
  const common = gcd(rest, BEAT_TICKS);
  const fraction = `${rest / common}/${BEAT_TICKS / common}`;
  return whole === 0 ? fraction : `${whole}+${fraction}`;
}

/** The same with its unit: "1 beat", "1+1/2 beats". */
export const beatsWithUnit = (ticks: number): string =>
  `${beatsText(ticks)} ${ticks > BEAT_TICKS ? "beats" : "beat"}`;

/** Ticks of such a text, decimals allowed ("2.5"), rounded to the tick; undefined for anything else. */
export function parseBeats(text: string): number | undefined {
  const match = /^(?:(\d{1,4})(?:\+|$))?(?:(\d{1,3})\/(\d{1,3}))?$/.exec(text);
  if (match && text !== "" && !text.endsWith("+")) {
    const denominator = Number(match[3] ?? 1);
    if (denominator === 0) return undefined;
    return Math.round((Number(match[1] ?? 0) + Number(match[2] ?? 0) / denominator) * BEAT_TICKS);
  }
  return /^\d{1,4}\.\d{1,6}$/.test(text) ? Math.round(Number(text) * BEAT_TICKS) : undefined;
}

/** Bar numbers in short: [1, 2, 3, 6] is "1-3,6". */
export function rangesText(bars: readonly number[]): string {
  const parts: string[] = [];
  for (let idx = 0; idx < bars.length; ) {
    let end = idx;
    while (bars[end + 1] === (bars[end] ?? 0) + 1) end++;
    parts.push(end === idx ? `${bars[idx]}` : `${bars[idx]}-${bars[end]}`);
    idx = end + 1;
  }
  return parts.join(",");
}

/** Most bars one range may name: longer than any sheet, short enough to never fill the memory. */
const MOST_BARS = 20_000;

/** Bar numbers of such a text; undefined for anything else. */
export function parseRanges(text: string): number[] | undefined {
  const bars: number[] = [];
  for (const part of text.split(",")) {
    const match = /^(\d{1,5})(?:-(\d{1,5}))?$/.exec(part.trim());
    if (!match) return undefined;
    const from = Number(match[1]);
    const to = Number(match[2] ?? from);
    if (to < from || bars.length + to - from >= MOST_BARS) return undefined;
    for (let bar = from; bar <= to; bar++) bars.push(bar);
  }
  return bars;
}
