/** What was played besides the sheet as written, in words: a false start, a bar begun again, a section repeated or left out, a pause.
 * In: structure and times. Out: findings, and the stretches whose notes are not held against the sheet.
 * Up to two surplus bars are taken for bars that the sheet lacks: their notes stay, and are reported as unwritten. */
import type { Finding } from "../base/finding.js";
import type { Listening } from "../notes/played-note.js";
import type { AlignedEvent } from "./align.js";
import { type BarPass, MOST_UNWRITTEN_BARS, type Structure } from "./structure.js";
import type { PlayedBar, Score } from "./written.js";

export type Ignored = { fromSec: number; toSec: number; why: string };

const PAUSE = Object.freeze({
  leastSec: 1.2, // a gap of this length …
  share: 2.5, // … and this many times the written one
  leastNotes: 3, // heard in it that make it music: a string that rings on is now and then taken for one struck anew
});

const OPENING_EVENTS = 12; // the first bar or two: a false start is made of their pitches

const range = (bars: readonly number[]): string => {
  const first = Math.min(...bars);
  const last = Math.max(...bars);
  return first === last ? `Bar ${first}` : `Bars ${first}–${last}`;
};

/** Findings about the course of the recording, in time order. */
export function passageFindings(
  score: Score,
  structure: Structure,
  events: readonly AlignedEvent[],
  listening: Listening,
): { findings: Finding[]; ignored: Ignored[] } {
  const findings: Finding[] = [];
  const ignored: Ignored[] = [];
  const unwritten: { fromSec: number; toSec: number }[] = [];
  const barOf = (barIdx: number): number => (score.bars[barIdx] as PlayedBar | undefined)?.bar ?? 0;
  const say = (rule: string, level: Finding["level"], bar: number, message: string, hint: string): void => {
    findings.push({ rule, level, bar, message, hint });
  };
  const clock = (sec: number): string => `${sec.toFixed(1)} s`;
  const timed = events.filter((e) => e.sec !== undefined);
  const firstSec = timed[0]?.sec ?? 0;
  const lastSec = timed.at(-1)?.sec ?? listening.durationSec;

  for (const { afterBarIdx, passes } of structure.surplus) {
    const [first, last] = [passes[0] as BarPass, passes.at(-1) as BarPass];
    const bars = passes.filter((p) => p.barIdx >= 0).map((p) => barOf(p.barIdx));
    const strange = bars.length === 0;
    const span = { fromSec: first.fromSec - 0.06, toSec: last.toSec - 0.06 };
    const brokenOff = passes.some((p) => !p.complete);
    if (strange && first.fromSec > lastSec) continue; // what follows the music is not held against it
    if (afterBarIdx < 0 || last.toSec <= firstSec + 0.1) {
      ignored.push({ ...span, why: "false-start" });
      say(
        "false-start",
        "note",
        bars[0] ?? 0,
        `A start at ${clock(first.fromSec)} was broken off; the sheet is compared from ${clock(firstSec)}.`,
        "Cut it from the recording before publishing.",
      );
    } else if (!strange && passes.length > MOST_UNWRITTEN_BARS) {
      ignored.push({ ...span, why: "repeated" });
      say(
        "section-repeated",
        "warning",
        bars[0] ?? 0,
        `${range(bars)} are played once more, from ${clock(first.fromSec)} to ${clock(last.toSec)}, than the sheet says.`,
        "Write the repeat, or cut it from the recording.",
      );
    } else if (brokenOff) {
      ignored.push({ ...span, why: "begun-again" });
      say(
        "begun-again",
        "note",
        bars[0] ?? 0,
        `${range(bars)} broken off at ${clock(last.toSec)} and begun again.`,
        "The last time through is compared.",
      );
    } else {
      unwritten.push(span);
      say(
        "unwritten-bar",
        "warning",
        barOf(afterBarIdx),
        `After bar ${barOf(afterBarIdx)}, from ${clock(first.fromSec)}, ${passes.length === 1 ? "a bar is" : `${passes.length} bars are`} played that the sheet does not have there.`,
        "Write it, or cut it from the recording.",
      );
    }
  }

  let run: number[] = [];
  const close = (atEnd: boolean): void => {
    if (run.length > 0)
      say(
        atEnd ? "ends-early" : "left-out",
        "warning",
        run[0] ?? 0,
        atEnd
          ? `${range(run)} not played: the recording ends before.`
          : `${range(run)} ${run.length === 1 ? "is" : "are"} left out in the recording.`,
        "Strike it from the sheet, or record it again.",
      );
    run = [];
  };
  structure.places.forEach((place, barIdx) => {
    const bar = score.bars[barIdx] as PlayedBar;
    if (bar.endEvent === bar.firstEvent) return;
    if (place.kind === "left-out") run.push(bar.bar);
    else close(false);
  });
  close(true);

  const swapped = new Set<number>();
  structure.places.forEach((place, barIdx) => {
    if (place.kind !== "instead" || swapped.has(barIdx)) return;
    const other = structure.places[place.pass.barIdx];
    const key = (i: number): string => score.bars[i]?.contentKey ?? "";
    if (other?.kind !== "instead" || key(other.pass.barIdx) !== key(barIdx)) return;
    swapped.add(place.pass.barIdx);
    say(
      "bars-swapped",
      "warning",
      barOf(barIdx),
      `Bars ${barOf(barIdx)} and ${barOf(place.pass.barIdx)} are played in each other's place.`,
      "Swap them in the sheet.",
    );
  });

  for (let i = 1; i < timed.length; i++) {
    const [before, after] = [timed[i - 1] as AlignedEvent, timed[i] as AlignedEvent];
    const gap = (after.sec as number) - (before.sec as number);
    const slope = after.secPerTick ?? before.secPerTick;
    const wanted = slope === undefined ? 1 : (after.startTick - before.startTick) * slope;
    if (gap < wanted + PAUSE.leastSec || gap < PAUSE.share * wanted) continue;
    const within = (sec: number): boolean =>
      sec > (before.sec as number) + 0.1 && sec < (after.sec as number) - 0.1;
    if (ignored.some((s) => within(s.fromSec) || within(s.toSec))) continue;
    if (unwritten.some((s) => within(s.fromSec) || within(s.toSec))) continue;
    const played = listening.notes.filter((n) => within(n.onsetSec)).length;
    if (played < PAUSE.leastNotes)
      say(
        "pause",
        "note",
        after.bar,
        `A pause of ${gap.toFixed(1)} s before bar ${after.bar}.`,
        "Timing is judged on either side of it.",
      );
    else
      say(
        "unwritten-music",
        "warning",
        before.bar,
        `Between bar ${before.bar} and bar ${after.bar}, ${played} notes in ${gap.toFixed(1)} s are not in the sheet.`,
        "Write them, or cut them from the recording.",
      );
  }
  // The sheet speaks for the time from the start of its first bar played to the end of its last.
  const [head, tail] = [timed[0], timed.at(-1)];
  const pulseOf = (e: AlignedEvent | undefined): number => e?.secPerTick ?? 0.02;
  const barOfEvent = (e: AlignedEvent | undefined): PlayedBar | undefined => score.bars[e?.barIdx ?? -1];
  const fromSec =
    firstSec - ((head?.startTick ?? 0) - (barOfEvent(head)?.startTick ?? 0)) * pulseOf(head) - 0.1;
  const lastBar = barOfEvent(tail);
  const restTicks = lastBar && tail ? lastBar.startTick + lastBar.lengthTicks - tail.startTick : 0;
  const toSec = lastSec + restTicks * pulseOf(tail) - 0.05;
  const before = listening.notes.filter(
    (n) => n.onsetSec < fromSec && !ignored.some((i) => n.onsetSec >= i.fromSec && n.onsetSec < i.toSec),
  );
  const opening = new Set(timed.slice(0, OPENING_EVENTS).flatMap((e) => e.midis));
  if (before.length >= 3) {
    const alike = before.filter((n) => opening.has(n.midi)).length >= 0.6 * before.length;
    const [first, last] = [before[0]?.onsetSec ?? 0, before.at(-1)?.onsetSec ?? 0];
    say(
      alike ? "false-start" : "before-the-start",
      "note",
      0,
      alike
        ? `A start at ${clock(first)} was broken off; the sheet is compared from ${clock(firstSec)}.`
        : `${before.length} notes between ${clock(first)} and ${clock(last)} are heard before the music; they are not compared.`,
      "Cut them from the recording before publishing.",
    );
  }
  if (fromSec > 0) ignored.push({ fromSec: 0, toSec: fromSec, why: "before the start" });
  ignored.push({
    fromSec: Math.max(toSec, lastSec + 0.15),
    toSec: listening.durationSec + 1,
    why: "after the end",
  });
  return { findings: findings.sort((a, b) => a.bar - b.bar), ignored };
}
