/** A sheet of a take writes out every bar that was played; here what comes back at once is written once, with repeat signs and endings.
 * In: a sheet with its form. Out: the same music in fewer bars, numbered anew; what belongs to one playing (times, beats, the take) is left out.
 * Two bars are the same when the same strings, frets, letters and marks are plucked at the same ticks under the same chords; lengths are the first playing's.
 * Source of the sections: the sheet's form. Cannot: fold what comes back later, or a section that differs before its half. */
import { repeatsOf, type Section } from "./form.js";
import type { Repeat, Sheet } from "./sheet.js";

/** Where every bar goes; `kept` are the bars that stay, in order. */
type Fold = { repeats: Repeat[]; newOf: Map<number, number>; kept: Set<number> };

/** @returns the folded sheet; the sheet itself where nothing comes back at once, or repeats are written already */
export function foldRepeats(sheet: Sheet): Sheet {
  const fold = sheet.repeats.length === 0 ? findFold(sheet) : undefined;
  if (!fold) return sheet;
  const at = (bar: number): number => fold.newOf.get(bar) ?? bar;
  const stays = ({ bar }: { bar: number }): boolean => bar === 0 || fold.kept.has(bar);
  const unique = (bars: readonly number[]): number[] => [...new Set(bars.map(at))];
  const { take: _take, removed: _removed, removedChords: _chords, pattern, ...rest } = sheet;
  const departures = (pattern?.departures ?? []).filter(stays).map((d) => ({ ...d, bar: at(d.bar) }));
  return {
    ...rest,
    grid: { ...sheet.grid, beatSec: [], firstBeatSec: 0, barCount: fold.kept.size },
    notes: sheet.notes.filter(stays).map(({ onsetSec: _on, offsetSec: _off, ...note }) => ({
      ...note,
      bar: at(note.bar),
    })),
    chords: sheet.chords.filter(stays).map(({ startSec: _start, endSec: _end, ...chord }) => ({
      ...chord,
      bar: at(chord.bar),
    })),
    ...(pattern ? { pattern: { ...pattern, bars: unique(pattern.bars), departures } } : {}),
    form: foldedForm(sheet, at, fold.repeats),
    repeats: fold.repeats,
    groupOfBar: sheet.groupOfBar.filter((_, idx) => fold.kept.has(idx + 1)),
    findings: sheet.findings.map((f) => ({ ...f, bar: f.bar === 0 ? 0 : at(f.bar) })),
  };
}

function findFold(sheet: Sheet): Fold | undefined {
  const sections = sectionsOf(sheet);
  if (!sections) return undefined;
  const exact = exactOfBar(sheet);
  const whole = repeatsOf(sections, exact).filter((r) => isWorthFolding(r, exact));
  if (whole.length === 0) return undefined;
  const fold: Fold = { repeats: [], newOf: new Map(), kept: new Set() };
  const keep = (bar: number): void => {
    fold.kept.add(bar);
    fold.newOf.set(bar, fold.kept.size);
  };
  for (let bar = 1; bar <= sheet.grid.barCount; ) {
    const repeat = whole.find((r) => r.fromBar === bar);
    if (!repeat) {
      keep(bar++);
      continue;
    }
    const len = repeat.toBar - repeat.fromBar + 1;
    const common = len - (repeat.endings[0]?.bars.length ?? 0);
    const fromBar = fold.kept.size + 1;
    for (let k = 0; k < common; k++) keep(bar + k);
    for (const ending of repeat.endings) for (const b of ending.bars) keep(b);
    for (let pass = 0; pass < repeat.times; pass++)
      for (let k = 0; k < len; k++) {
        const ending = repeat.endings.find((e) => e.times.includes(pass + 1));
        const written = k < common ? bar + k : (ending?.bars[k - common] ?? bar + k);
        fold.newOf.set(bar + pass * len + k, fold.newOf.get(written) ?? written);
      }
    fold.repeats.push({
      fromBar,
      toBar: fold.kept.size,
      times: repeat.times,
      endings: repeat.endings.map((e) => ({
        times: [...e.times],
        bars: e.bars.map((b) => fold.newOf.get(b) ?? b),
      })),
    });
    bar += repeat.times * len;
  }
  return fold;
}

/** The form as sections that follow each other from bar 1 to the last; undefined when a hand has written it otherwise. */
function sectionsOf(sheet: Sheet): Section[] | undefined {
  const labels: string[] = [];
  const sections: Section[] = [];
  let next = 1;
  for (const { label, bars } of sheet.form) {
    if (bars.some((bar, k) => bar !== next + k) || bars.length === 0) return undefined;
    const key = `${bars.length} ${label}`;
    if (!labels.includes(key)) labels.push(key);
    sections.push({ from: next - 1, len: bars.length, label: labels.indexOf(key) });
    next += bars.length;
  }
  return next === sheet.grid.barCount + 1 ? sections : undefined;
}

/** A number for every bar, equal for bars that are plucked alike under the same chords. */
function exactOfBar(sheet: Sheet): number[] {
  const keys: string[] = [];
  let sounding = "";
  return Array.from({ length: sheet.grid.barCount }, (_, idx) => {
    const bar = idx + 1;
    const chords = sheet.chords.filter((c) => c.bar === bar).sort((a, b) => a.beat - b.beat);
    const opening = chords[0]?.beat === 1 ? "" : sounding;
    sounding = chords.at(-1)?.symbol ?? sounding;
    const notes = sheet.notes
      .filter((n) => n.bar === bar)
      .map((n) => [n.tick, n.string, n.fret, n.finger ?? "", ...[...n.marks].sort()].join(" "))
      .sort();
    const key = [opening, ...chords.map((c) => `${c.beat} ${c.symbol}`), "|", ...notes].join("\n");
    if (!keys.includes(key)) keys.push(key);
    return keys.indexOf(key);
  });
}

/** Every pass is the same, or the passes part in endings no longer than what they share. */
function isWorthFolding({ fromBar, toBar, times, endings }: Repeat, exact: readonly number[]): boolean {
  const len = toBar - fromBar + 1;
  if (endings.length > 0) return 2 * (endings[0]?.bars.length ?? 0) <= len;
  return Array.from({ length: (times - 1) * len }, (_, k) => fromBar - 1 + len + k).every(
    (idx) => exact[idx] === exact[fromBar - 1 + ((idx - fromBar + 1) % len)],
  );
}

/** Sections by the bars that are written; those of one repeat become one. */
function foldedForm(sheet: Sheet, at: (bar: number) => number, repeats: readonly Repeat[]): Sheet["form"] {
  const parts: Sheet["form"] = [];
  for (const { label, bars } of sheet.form) {
    const first = at(bars[0] ?? 1);
    const repeat = repeats.find((r) => first >= r.fromBar && first <= r.toBar);
    const known = parts.at(-1);
    if (repeat && known?.bars[0] === repeat.fromBar) continue;
    const last = repeat ? repeat.toBar : at(bars.at(-1) ?? 1);
    parts.push({ label, bars: Array.from({ length: last - first + 1 }, (_, k) => first + k) });
  }
  return parts;
}
