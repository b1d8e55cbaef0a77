/** Panels of the handout that are drawn here, not engraved: the picking pattern, the form, the map of the scale. x, y is the upper left corner. */
import type { Sheet } from "../sheet/sheet.js";
import { COLORS, type Pen, withSigns } from "./ink.js";
import { modeRow } from "./mode-degree-table.js";
import { barList, degreeNote, pitchClassOf } from "./why-text.js";

/** Height of the pattern panel. */
export const PATTERN_HEIGHT_PT = 106;

/** One bar (or half) of the picking hand, large: six strings, letters where they pluck, the count below. */
export function drawPattern(pen: Pen, sheet: Sheet, x: number, y: number, width: number): void {
  const pattern = sheet.pattern;
  if (!pattern) return;
  const gap = 14;
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
      const label = part.bars.length > 1 ? `${part.bars[0]}–${part.bars.at(-1)}` : String(part.bars[0] ?? "");
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

/** Height of the scale map. */
export const MAP_HEIGHT_PT = 128;

/** The neck from the capo to fret 12: every degree of the scale, the tonic filled, the deciding degree ringed. */
export function drawScaleMap(pen: Pen, sheet: Sheet, x: number, y: number, width: number): void {
  if (!sheet.mode) return;
  const row = modeRow(sheet.mode.mode);
  const tonicPc = pitchClassOf(sheet.mode.tonic);
  const frets = 12;
  const gap = 15;
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
      const steps = (((openMidi + fret - tonicPc) % 12) + 12) % 12;
      const idx = row.degrees.findIndex(([semitones]) => semitones === steps);
      const degree = row.degrees[idx];
      if (!degree) continue;
      const cx = fret === 0 ? openX : (fretX(fret - 1) + fretX(fret)) / 2;
      const isTonic = idx === 0;
      const decides = idx === row.decidingIdx;
      pen.circle(
        cx,
        cy,
        6.4,
        isTonic ? COLORS.accent : "#ffffff",
        isTonic || decides ? COLORS.accent : COLORS.ink,
        decides ? 1.8 : 0.7,
      );
      pen.text(cx, cy + 2.8, withSigns(degree[1]), {
        face: isTonic || decides ? "sans-bold" : "sans",
        sizePt: 8,
        color: isTonic ? "#ffffff" : decides ? COLORS.accent : COLORS.ink,
        anchor: "middle",
      });
    }
  }
}

/** The scale spelled out, "A B C# D E F# G". */
export function scaleNotes(sheet: Sheet): string {
  const { mode } = sheet;
  if (!mode) return "";
  return modeRow(mode.mode)
    .degrees.map(([, degree]) => degreeNote(mode.tonic, degree))
    .join("  ");
}

/** "bar 1" or "bars 1–3, 5": where a grip is played, shortened past three runs. */
export function barsLabel(bars: readonly number[]): string {
  const list = barList(bars).replace(" and ", ", ");
  const shown = list.split(", ").slice(0, 3).join(", ");
  return `${bars.length === 1 ? "bar" : "bars"} ${shown}${shown.length < list.length ? " …" : ""}`;
}
