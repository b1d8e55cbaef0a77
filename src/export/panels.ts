/** Panels of the handout that are drawn here, not engraved: the picking pattern, the form, the map of the scale. x, y is the upper left corner. */
import { mod } from "../base/numbers.js";
import type { ModeGuess } from "../harmony/harmony.js";
import type { Sheet } from "../sheet/sheet.js";
import { pitchClassOf } from "../theory/pitch.js";
import { degreeNote, modeRow } from "../theory/scale.js";
import { COLORS, type Pen, type TextStyle, withSigns } from "./ink.js";
import { MODE_RIVALS } from "./mode-rival-table.js";
import { barList } from "./why-text.js";

/** Height of the pattern panel. @param gapPt between its strings */
export const patternHeight = (gapPt: number): number => 5 * gapPt + 38;

/** One bar (or half) of the picking hand, large: six strings, letters where they pluck, the count below. */
export function drawPattern(pen: Pen, sheet: Sheet, x: number, y: number, width: number, gap: number): void {
  const pattern = sheet.pattern;
  if (!pattern) return;
  const left = x + 8;
  const right = x + width - 8;
  const top = y + 14;
  for (let string = 1; string <= 6; string++)
    pen.line(
      left,
      top + (string - 1) * gap,
      right,
      top + (string - 1) * gap,
      COLORS.ink,
      0.5 + string * 0.09,
    );
  for (const edge of [left, right]) pen.line(edge, top, edge, top + 5 * gap, COLORS.ink, 0.9);
  const beatX = (beat: number): number => left + 20 + ((beat - 1) / pattern.beats) * (right - left - 28);
  const compound = sheet.grid.meter.unit >= 8;
  const countY = top + 5 * gap + 22;
  for (let beat = 1; beat <= pattern.beats; beat++) {
    pen.text(beatX(beat), countY, String(beat), { face: "sans-bold", sizePt: 10, anchor: "middle" });
    if (!compound && pattern.hits.some((h) => Math.abs(h.beat - beat - 0.5) < 0.01))
      pen.text(beatX(beat + 0.5), countY, "&", {
        face: "sans",
        sizePt: 9,
        color: COLORS.soft,
        anchor: "middle",
      });
    for (const hit of pattern.hits) {
      const within = hit.beat - beat;
      if (within > 0.01 && within < 0.99 && (compound || Math.abs(within - 0.5) > 0.01))
        pen.circle(beatX(hit.beat), countY - 3, 0.9, COLORS.soft);
    }
  }
  for (const hit of pattern.hits) {
    const cx = beatX(hit.beat);
    const cy = top + (hit.string - 1) * gap;
    const isThumb = hit.finger === "p";
    pen.circle(cx, cy, 6.7, isThumb ? COLORS.accent : "#ffffff", isThumb ? COLORS.accent : COLORS.ink, 1.1);
    pen.text(cx, cy + 3.1, hit.finger, {
      face: "serif-bold",
      sizePt: 11,
      color: isThumb ? "#ffffff" : COLORS.ink,
      anchor: "middle",
    });
  }
}

/** The form as a line of boxes as wide as their bars. */
export function drawForm(pen: Pen, sheet: Sheet, x: number, y: number, width: number): number {
  const total = sheet.form.reduce((sum, part) => sum + part.bars.length, 0);
  const rowCount = Math.max(1, Math.ceil((sheet.form.length * 34) / width));
  const perRow = Math.ceil(sheet.form.length / rowCount);
  const gap = 3;
  let partIdx = 0;
  for (let row = 0; row < rowCount; row++) {
    const parts = sheet.form.slice(partIdx, partIdx + perRow);
    partIdx += perRow;
    const rowBars = rowCount === 1 ? total : parts.reduce((sum, p) => sum + p.bars.length, 0);
    let at = x;
    for (const part of parts) {
      const w = (part.bars.length / Math.max(1, rowBars)) * (width - gap * (parts.length - 1));
      const top = y + row * 42;
      const first = sheet.form.findIndex((p) => p.label === part.label) === sheet.form.indexOf(part);
      pen.rect(at, top, w, 24, first ? COLORS.tint : "#ffffff", COLORS.accent, 2);
      pen.text(at + w / 2, top + 16.5, part.label, {
        face: "serif-bold",
        sizePt: 13,
        color: COLORS.accent,
        anchor: "middle",
      });
      const label = `${part.bars.length > 1 ? `${part.bars[0]}–${part.bars.at(-1)}` : (part.bars[0] ?? "")}${timesOf(sheet, part.bars)}`;
      pen.text(at + w / 2, top + 34, label, {
        face: "sans",
        sizePt: 7.6,
        color: COLORS.soft,
        anchor: "middle",
      });
      at += w + gap;
    }
  }
  return rowCount * 42;
}

/** " ×2" for a section that is written once and played twice. */
function timesOf(sheet: Sheet, bars: readonly number[]): string {
  const repeat = sheet.repeats.find((r) => bars.includes(r.fromBar) && bars.includes(r.toBar));
  return repeat ? ` ×${repeat.times}` : "";
}

/** Height of the scale map. @param gapPt between its strings */
export const mapHeight = (gapPt: number): number => 5 * gapPt + 33;

/** A degree of the map: semitones over the tonic, its name, and whether the music leaves it open between two. */
type MapDegree = { semitones: number; degree: string; isOpen: boolean; decides: boolean };

/** Degrees of the scale; where two modes are left open, both notes of the degree that would decide. */
function mapDegrees(mode: ModeGuess): MapDegree[] {
  const row = modeRow(mode.mode);
  const other = mode.undecided[0]?.between.find((name) => name !== mode.mode);
  const otherRow = other === undefined ? undefined : modeRow(other);
  return row.degrees.flatMap(([semitones, degree], idx) => {
    const rival = otherRow?.degrees[idx];
    const isOpen = rival !== undefined && rival[0] !== semitones;
    const decides = otherRow === undefined && idx === MODE_RIVALS[mode.mode].degree - 1;
    const own = { semitones, degree, isOpen, decides };
    return isOpen ? [own, { semitones: rival[0], degree: rival[1], isOpen, decides }] : [own];
  });
}

/** The neck from the capo to fret 12: every degree of the scale, the tonic filled, the deciding degree ringed, one left open dashed. */
export function drawScaleMap(pen: Pen, sheet: Sheet, x: number, y: number, width: number, gap: number): void {
  if (!sheet.mode) return;
  const degrees = mapDegrees(sheet.mode);
  const tonicPc = pitchClassOf(sheet.mode.tonic) ?? 0;
  const frets = 12;
  const openX = x + 32;
  const left = openX + 14;
  const right = x + width - 4;
  const top = y + 12;
  const fretX = (fret: number): number => left + (fret / frets) * (right - left);
  for (const fret of [3, 5, 7, 9, 12])
    pen.rect(fretX(fret - 1), top, fretX(fret) - fretX(fret - 1), 5 * gap, COLORS.tint);
  for (let string = 1; string <= 6; string++)
    pen.line(left, top + (string - 1) * gap, right, top + (string - 1) * gap, COLORS.ink, 0.4 + string * 0.1);
  for (let fret = 0; fret <= frets; fret++)
    pen.line(
      fretX(fret),
      top,
      fretX(fret),
      top + 5 * gap,
      fret === 0 ? COLORS.ink : COLORS.soft,
      fret === 0 ? 2.4 : 0.5,
    );
  for (let fret = 1; fret <= frets; fret++)
    pen.text((fretX(fret - 1) + fretX(fret)) / 2, top + 5 * gap + 19, String(fret), {
      face: [3, 5, 7, 9, 12].includes(fret) ? "sans-bold" : "sans",
      sizePt: 7.6,
      color: COLORS.soft,
      anchor: "middle",
    });
  for (let string = 1; string <= 6; string++) {
    const openMidi = (sheet.openMidi[6 - string] ?? 0) + sheet.capo;
    const cy = top + (string - 1) * gap;
    for (let fret = 0; fret <= frets; fret++) {
      const steps = mod(openMidi + fret - tonicPc, 12);
      const found = degrees.find((d) => d.semitones === steps);
      if (!found) continue;
      const cx = fret === 0 ? openX : (fretX(fret - 1) + fretX(fret)) / 2;
      const isTonic = steps === 0;
      const isMarked = isTonic || found.decides || found.isOpen;
      pen.circle(
        cx,
        cy,
        Math.min(6.4, gap / 2 - 0.3),
        isTonic ? COLORS.accent : "#ffffff",
        isMarked ? COLORS.accent : COLORS.ink,
        found.decides ? 1.8 : found.isOpen ? 1.1 : 0.7,
        found.isOpen ? "2 1.4" : undefined,
      );
      pen.text(cx, cy + 2.8, withSigns(found.degree), {
        face: isTonic || found.decides ? "sans-bold" : "sans",
        sizePt: 8,
        color: isTonic ? "#ffffff" : isMarked ? COLORS.accent : COLORS.ink,
        anchor: "middle",
      });
    }
  }
}

/** The scale spelled out, "A  B  C#  D  E  F#  G"; "(F or F#)" for a degree that is left open. */
export function scaleNotes(sheet: Sheet): string {
  const { mode } = sheet;
  if (!mode) return "";
  const degrees = mapDegrees(mode);
  const names = degrees.map(({ degree }) => degreeNote(mode.tonic, degree));
  return degrees
    .flatMap(({ isOpen }, idx) => {
      if (!isOpen) return [names[idx]];
      return degrees[idx + 1]?.isOpen ? [`(${names[idx]} or ${names[idx + 1]})`] : [];
    })
    .join("  ");
}

/** "bar 1" or "bars 1–3, 5": where a grip is played, shortened to the width. */
export function barsLabel(pen: Pen, bars: readonly number[], style: TextStyle, widthPt: number): string {
  const runs = barList(bars).replace(" and ", ", ").split(", ");
  const word = bars.length === 1 ? "bar" : "bars";
  for (let count = runs.length; count > 1; count--) {
    const label = `${word} ${runs.slice(0, count).join(", ")}${count < runs.length ? " …" : ""}`;
    if (pen.width(label, style) <= widthPt) return label;
  }
  return `${word} ${runs[0]}${runs.length > 1 ? " …" : ""}`;
}
