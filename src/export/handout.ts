/** Sheet → engraved handout, as SVG or PDF.
 * In: a sheet, and an engraver, fonts and a PDF writer handed in. Out: an ExportFile.
 * Pages are laid out here: head, picking pattern and form, grips, the music system by system, why the mode, the scale on the neck.
 * Systems come from the engraver; chords, picking letters, fret numbers and section letters are printed by the page.
 * Cannot: change of meter, lyrics, more than one tempo. */
import type { Sheet } from "../sheet/sheet.js";
import { BOX_HEIGHT_PT, BOX_WIDTH_PT, drawChordBox, playedGrips } from "./chord-boxes.js";
import type { ExportFile } from "./export-file.js";
import { fileNameOf } from "./file-name.js";
import type { FontFile, HandoutDeps, HandoutPage } from "./handout-deps.js";
import { drawHead, modeLabel } from "./handout-head.js";
import { COLORS, makePen, num, type Pen, withSigns, wrapText } from "./ink.js";
import {
  barsLabel,
  drawForm,
  drawPattern,
  drawScaleMap,
  MAP_HEIGHT_PT,
  PATTERN_HEIGHT_PT,
  scaleNotes,
} from "./panels.js";
import { shiftFifths, signatureFifths, spellPitch } from "./spelling.js";
import { drawSystem, systemHeight } from "./system-page.js";
import { engraveSystems } from "./systems.js";
import { pitchClassOf, whySentences } from "./why-text.js";

/** @property paper sheet of paper, default A4 @property notation five-line staff above the tab, default true */
export type HandoutOptions = { paper?: "a4" | "letter"; notation?: boolean };

/** Points: ISO 216 A4 is 210 × 297 mm, Letter 8.5 × 11 inches. */
const PAPERS = { a4: [595.28, 841.89], letter: [612, 792] } as const;
const MARGIN_PT = 46;
const FOOT_PT = 34;

/** A stretch of the page that is not broken. `keepWithNext` holds a heading with what it heads. */
type Block = {
  height: number;
  gap: number;
  keepWithNext?: boolean;
  isSystem?: boolean;
  draw: (pen: Pen, x: number, y: number) => void;
};

/** The handout's pages, each an SVG of the paper's size. */
export function handoutPages(sheet: Sheet, deps: HandoutDeps, options: HandoutOptions = {}): HandoutPage[] {
  const [widthPt, heightPt] = PAPERS[options.paper ?? "a4"];
  const innerPt = widthPt - 2 * MARGIN_PT;
  const roomPt = heightPt - MARGIN_PT - MARGIN_PT - FOOT_PT + 12;
  const blocks = makeBlocks(sheet, deps, innerPt, options.notation ?? true);
  const pages = breakPages(blocks, roomPt);
  return pages.map((page, pageIdx) => {
    const pen = makePen(deps);
    let y = MARGIN_PT;
    // A full page of systems is spread to the foot, by no more than what still looks even.
    const used = page.reduce((sum, b, idx) => sum + b.height + (idx === 0 ? 0 : b.gap), 0);
    const isLast = pageIdx === pages.length - 1;
    const spread = isLast || page.length < 2 ? 0 : Math.min(16, (roomPt - used) / (page.length - 1));
    for (const [idx, block] of page.entries()) {
      if (idx > 0) y += block.gap + spread;
      block.draw(pen, MARGIN_PT, y);
      y += block.height;
    }
    drawFoot(pen, sheet, pageIdx + 1, pages.length, widthPt, heightPt);
    return { svg: pageSvg(pen, widthPt, heightPt), widthPt, heightPt };
  });
}

/** All pages one under the other in a single SVG, fonts embedded. */
export function toSvg(sheet: Sheet, deps: HandoutDeps, options: HandoutOptions = {}): ExportFile {
  const pages = handoutPages(sheet, deps, options);
  const gapPt = 18;
  const widthPt = pages[0]?.widthPt ?? 0;
  const heightPt = pages.reduce((sum, p) => sum + p.heightPt, 0) + gapPt * (pages.length - 1);
  let y = 0;
  const placed = pages.map((page, idx) => {
    // Glyph ids are made unique, or a later page would draw with the first page's.
    const unique = page.svg.replace(/(id="|#)s(\d+)-/g, `$1p${idx}s$2-`);
    const inner = unique.replace(
      /^<svg [^>]*>/,
      `<svg x="0" y="${num(y)}" width="${num(page.widthPt)}" height="${num(page.heightPt)}" viewBox="0 0 ${num(page.widthPt)} ${num(page.heightPt)}">`,
    );
    y += page.heightPt + gapPt;
    return inner;
  });
  const text =
    `<?xml version="1.0" encoding="UTF-8"?>\n<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" ` +
    `width="${num(widthPt)}pt" height="${num(heightPt)}pt" viewBox="0 0 ${num(widthPt)} ${num(heightPt)}">` +
    `<style>${fontCss(deps.fonts, placed.join(""))}</style>${placed.join("\n")}</svg>\n`;
  return {
    fileName: fileNameOf(sheet, "svg"),
    mediaType: "image/svg+xml",
    bytes: new TextEncoder().encode(text),
  };
}

/** A PDF with text that can be searched and copied, fonts embedded as subsets. */
export async function toPdf(
  sheet: Sheet,
  deps: HandoutDeps,
  options: HandoutOptions = {},
): Promise<ExportFile> {
  const bytes = await deps.pdf(handoutPages(sheet, deps, options), {
    title: sheet.title || "Sheet",
    author: sheet.composer,
    subject: modeLabel(sheet),
  });
  return { fileName: fileNameOf(sheet, "pdf"), mediaType: "application/pdf", bytes };
}

function makeBlocks(sheet: Sheet, deps: HandoutDeps, innerPt: number, notation: boolean): Block[] {
  const blocks: Block[] = [];
  const probe = makePen(deps);
  const headHeight = drawHead(makePen(deps), sheet, 0, 0, innerPt);
  blocks.push({ height: headHeight, gap: 0, draw: (pen, x, y) => void drawHead(pen, sheet, x, y, innerPt) });

  const hasPattern = (sheet.pattern?.hits.length ?? 0) > 0;
  if (hasPattern || sheet.form.length > 0) blocks.push(patternBlock(sheet, innerPt, hasPattern));

  const grips = playedGrips(sheet).slice(0, 18);
  const perRow = Math.max(1, Math.floor((innerPt + 6) / (BOX_WIDTH_PT + 6)));
  const rows = Math.ceil(grips.length / perRow);
  const evenRow = rows > 0 ? Math.ceil(grips.length / rows) : perRow;
  for (let row = 0; row < rows; row++) {
    const inRow = grips.slice(row * evenRow, (row + 1) * evenRow);
    const step = Math.min((innerPt - BOX_WIDTH_PT) / Math.max(1, evenRow - 1), BOX_WIDTH_PT + 26);
    const headPt = row === 0 ? 20 : 0;
    blocks.push({
      height: BOX_HEIGHT_PT + headPt - 8,
      gap: row === 0 ? 16 : 4,
      draw: (pen, x, y) => {
        if (row === 0)
          heading(
            pen,
            sheet.capo > 0 ? "The grips (frets from the capo, names as they sound)" : "The grips",
            x,
            y,
            innerPt,
          );
        for (const [idx, grip] of inRow.entries())
          drawChordBox(
            pen,
            grip,
            x + idx * step - 6,
            y + headPt,
            barsLabel(grip.bars),
            shapeName(sheet, grip.symbol),
          );
      },
    });
  }

  const systems = engraveSystems(sheet, deps, innerPt, notation);
  for (const [idx, system] of systems.entries()) {
    const headPt = idx === 0 ? 22 : 0;
    blocks.push({
      height: systemHeight(system, sheet) + headPt,
      gap: idx === 0 ? 18 : 12,
      isSystem: true,
      draw: (pen, x, y) => {
        if (idx === 0) heading(pen, "The study", x, y, innerPt);
        drawSystem(pen, sheet, system, x, y + headPt);
      },
    });
  }
  if (sheet.mode) blocks.push(...modeBlocks(sheet, probe, innerPt));
  return blocks;
}

/** The chord's name as held at the capo: B♭ at capo 3 is a G shape. */
function shapeName(sheet: Sheet, symbol: string): string {
  if (sheet.capo === 0) return "";
  const fifths = shiftFifths(
    sheet.mode ? signatureFifths(sheet.mode.tonic, sheet.mode.mode) : 0,
    -sheet.capo,
  );
  return symbol.replace(/(^|\/)([A-G][#b]*)/g, (_all, lead: string, name: string) => {
    const { step, alter } = spellPitch(60 + pitchClassOf(name) - sheet.capo, fifths);
    return lead + step + (alter > 0 ? "#".repeat(alter) : "b".repeat(-alter));
  });
}

function patternBlock(sheet: Sheet, innerPt: number, hasPattern: boolean): Block {
  const formWidth = sheet.form.length > 0 ? (hasPattern ? innerPt * 0.38 : innerPt) : 0;
  const patternWidth = hasPattern ? innerPt - (formWidth > 0 ? formWidth + 26 : 0) : 0;
  return {
    height: hasPattern ? PATTERN_HEIGHT_PT + 22 : 66,
    gap: 16,
    draw: (pen, x, y) => {
      if (hasPattern) {
        heading(pen, "The picking pattern", x, y, patternWidth);
        drawPattern(pen, sheet, x, y + 20, patternWidth);
      }
      if (formWidth === 0) return;
      const fx = x + innerPt - formWidth;
      heading(pen, "The form", fx, y, formWidth);
      const used = drawForm(pen, sheet, fx, y + 24, formWidth);
      if (!hasPattern) return;
      const style = { face: "serif", sizePt: 9.6, color: COLORS.soft } as const;
      const departures = [...new Set((sheet.pattern?.departures ?? []).map((d) => d.bar))];
      const lines = [
        "p thumb, i index, m middle, a ring finger.",
        departures.length > 0
          ? `${barsLabel(departures).replace(/^b/, "B")} ${departures.length === 1 ? "departs" : "depart"} from the pattern.`
          : "",
      ].flatMap((line) => wrapText(pen, line, style, formWidth));
      for (const [idx, line] of lines.entries()) pen.text(fx, y + 24 + used + 14 + idx * 12.5, line, style);
    },
  };
}

function modeBlocks(sheet: Sheet, probe: Pen, innerPt: number): Block[] {
  const style = { face: "serif", sizePt: 11 } as const;
  const leading = 15;
  const lines = wrapText(probe, whySentences(sheet).map(withSigns).join(" "), style, innerPt);
  return [
    {
      height: 24 + lines.length * leading,
      gap: 20,
      draw: (pen, x, y) => {
        heading(pen, `Why this is in ${modeLabel(sheet)}`, x, y, innerPt);
        for (const [idx, line] of lines.entries()) pen.text(x, y + 30 + idx * leading, line, style);
      },
    },
    {
      height: MAP_HEIGHT_PT,
      gap: 16,
      draw: (pen, x, y) => {
        heading(pen, `The scale to improvise with: ${withSigns(scaleNotes(sheet))}`, x, y, innerPt);
        drawScaleMap(pen, sheet, x, y + 22, innerPt);
      },
    },
  ];
}

function heading(pen: Pen, text: string, x: number, y: number, width: number): void {
  const style = { face: "sans-bold", sizePt: 9.4, color: COLORS.accent } as const;
  pen.text(x, y + 8, text, style);
  const from = x + pen.width(text, style) + 8;
  if (from < x + width) pen.line(from, y + 5, x + width, y + 5, COLORS.line, 0.6);
}

/** Blocks onto pages, none cut; a last page with a lone system takes another from the page before. */
function breakPages(blocks: readonly Block[], roomPt: number): Block[][] {
  const pages: Block[][] = [];
  let current: Block[] = [];
  let used = 0;
  for (const block of blocks) {
    const needed = block.height + (current.length === 0 ? 0 : block.gap);
    if (current.length > 0 && used + needed > roomPt) {
      pages.push(current);
      current = [];
      used = 0;
    }
    used += block.height + (current.length === 0 ? 0 : block.gap);
    current.push(block);
  }
  if (current.length > 0) pages.push(current);
  for (let idx = pages.length - 1; idx > 0; idx--) {
    const page = pages[idx];
    const before = pages[idx - 1];
    const isLone = page && page.filter((b) => b.isSystem).length === 1 && page[0]?.isSystem;
    if (!page || !before || !isLone || before.filter((b) => b.isSystem).length < 3) continue;
    const moved = before.at(-1);
    const height = page.reduce((sum, b) => sum + b.height + b.gap, 0);
    if (moved?.isSystem && height + moved.height <= roomPt) page.unshift(...before.splice(-1));
  }
  return pages;
}

function drawFoot(
  pen: Pen,
  sheet: Sheet,
  page: number,
  pageCount: number,
  widthPt: number,
  heightPt: number,
): void {
  const y = heightPt - FOOT_PT + 6;
  pen.line(MARGIN_PT, y - 12, widthPt - MARGIN_PT, y - 12, COLORS.line, 0.5);
  const style = { face: "sans", sizePt: 8, color: COLORS.soft } as const;
  pen.text(MARGIN_PT, y, sheet.title || "Sheet", style);
  pen.text(widthPt - MARGIN_PT, y, `Page ${page} of ${pageCount}`, { ...style, anchor: "end" });
}

function pageSvg(pen: Pen, widthPt: number, heightPt: number): string {
  return (
    `<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="${num(widthPt)}" height="${num(heightPt)}" viewBox="0 0 ${num(widthPt)} ${num(heightPt)}">` +
    `<rect x="0" y="0" width="${num(widthPt)}" height="${num(heightPt)}" fill="#ffffff"/>${pen.parts.join("")}</svg>`
  );
}

/** @font-face rules for the families that occur in the markup. */
function fontCss(fonts: readonly FontFile[], svg: string): string {
  return fonts
    .filter((f) => svg.includes(`font-family="${f.family}"`))
    .map(
      (f) => `@font-face{font-family:"${f.family}";src:url(data:${f.mediaType};base64,${toBase64(f.bytes)})}`,
    )
    .join("");
}

function toBase64(bytes: Uint8Array): string {
  let binary = "";
  for (let idx = 0; idx < bytes.length; idx += 0x8000)
    binary += String.fromCharCode(...bytes.subarray(idx, idx + 0x8000));
  return btoa(binary);
}
