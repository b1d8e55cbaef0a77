/** Sheet → engraved handout, as SVG or PDF.
 * In: a sheet, and an engraver, fonts and a PDF writer handed in. Out: an ExportFile.
 * Pages are laid out here: head, picking pattern and form, grips, the music system by system, why the mode, the scale on the neck.
 * Systems come from the engraver; chords, picking letters, fret numbers and section letters are printed by the page.
 * Cannot: change of meter, lyrics, more than one tempo. */
import type { Sheet } from "../sheet/sheet.js";
import { pitchClassOf } from "../theory/pitch.js";
import { BOX_WIDTH_PT, boxHeightPt, drawChordBox, playedGrips } from "./chord-boxes.js";
import type { ExportFile } from "./export-file.js";
import { fileNameOf } from "./file-name.js";
import type { FontFile, HandoutDeps, HandoutPage } from "./handout-deps.js";
import { drawHead, modeLabel } from "./handout-head.js";
import { COLORS, makePen, num, type Pen, withSigns, wrapText } from "./ink.js";
import { breakPages, type PageBlock, usedHeight } from "./page-break.js";
import { drawForm, drawPattern, drawScaleMap, mapHeight, patternHeight, scaleNotes } from "./panels.js";
import { shiftFifths, signatureFifths, spellPitch } from "./spelling.js";
import { drawSystem, systemHeight } from "./system-page.js";
import { type EngravedSystem, engraveSystems } from "./systems.js";
import { barList, whySentences } from "./why-text.js";

/** @property paper sheet of paper, default A4 @property notation five-line staff above the tab, default true */
export type HandoutOptions = { paper?: "a4" | "letter"; notation?: boolean };

/** Points: ISO 216 A4 is 210 × 297 mm, Letter 8.5 × 11 inches. */
const PAPERS = { a4: [595.28, 841.89], letter: [612, 792] } as const;
const MARGIN_PT = 46;
const TOP_PT = 40;
const FOOT_PT = 34;

/** How close the lines of the panels stand: `close` is taken where it saves a page. */
const DENSITIES = Object.freeze({
  roomy: { patternGapPt: 14, mapGapPt: 15, leadingPt: 15 },
  close: { patternGapPt: 12, mapGapPt: 13, leadingPt: 14 },
});

type Setting = {
  innerPt: number;
  notation: boolean;
  density: { patternGapPt: number; mapGapPt: number; leadingPt: number };
};

type Block = PageBlock & { draw: (pen: Pen, x: number, y: number) => void };

/** The handout's pages, each an SVG of the paper's size. */
export function handoutPages(sheet: Sheet, deps: HandoutDeps, options: HandoutOptions = {}): HandoutPage[] {
  const [widthPt, heightPt] = PAPERS[options.paper ?? "a4"];
  const innerPt = widthPt - 2 * MARGIN_PT;
  const roomPt = heightPt - TOP_PT - FOOT_PT - 18; // the foot's line, and air above it
  const notation = options.notation ?? true;
  const systems = engraveSystems(sheet, deps, innerPt, notation);
  const broken = (density: Setting["density"]): { pages: Block[][]; gapShare: number } =>
    breakPages(makeBlocks(sheet, deps, systems, { innerPt, notation, density }), roomPt);
  const [roomy, close] = [broken(DENSITIES.roomy), broken(DENSITIES.close)];
  const { pages, gapShare } = close.pages.length < roomy.pages.length ? close : roomy;
  return pages.map((page, pageIdx) => {
    const pen = makePen(deps);
    let y = TOP_PT;
    // A full page, or one of music alone, is spread towards the foot, by no more than what still looks even.
    const spare = roomPt - usedHeight(page, gapShare);
    const isShort = pageIdx === pages.length - 1 && !page.every((block) => block.isSystem);
    const spread = isShort || page.length < 2 ? 0 : Math.min(16, spare / (page.length - 1));
    for (const [idx, block] of page.entries()) {
      if (idx > 0) y += block.gap * gapShare + spread;
      block.draw(pen, MARGIN_PT, y);
      y += block.height;
    }
    drawFoot(pen, sheet, pageIdx + 1, pages.length, widthPt, heightPt);
    return { svg: pageSvg(pen, widthPt, heightPt), widthPt, heightPt };
  });
}

/** All pages one under the other in a single SVG, fonts embedded.
 * @param pages of `handoutPages`; one engraving serves this and the PDF */
export function toSvg(sheet: Sheet, pages: readonly HandoutPage[], deps: HandoutDeps): ExportFile {
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

/** A PDF with text that can be searched and copied, fonts embedded as subsets.
 * @param pages of `handoutPages` */
export async function toPdf(
  sheet: Sheet,
  pages: readonly HandoutPage[],
  deps: HandoutDeps,
): Promise<ExportFile> {
  const bytes = await deps.pdf(pages, {
    title: sheet.title || "Sheet",
    author: sheet.composer,
    subject: modeLabel(sheet),
  });
  return { fileName: fileNameOf(sheet, "pdf"), mediaType: "application/pdf", bytes };
}

function makeBlocks(
  sheet: Sheet,
  deps: HandoutDeps,
  systems: readonly EngravedSystem[],
  { innerPt, notation, density }: Setting,
): Block[] {
  const blocks: Block[] = [];
  const probe = makePen(deps);
  const headHeight = drawHead(makePen(deps), sheet, 0, 0, innerPt);
  blocks.push({ height: headHeight, gap: 0, draw: (pen, x, y) => void drawHead(pen, sheet, x, y, innerPt) });

  const hasPattern = (sheet.pattern?.hits.length ?? 0) > 0;
  if (hasPattern || sheet.form.length > 0)
    blocks.push(patternBlock(sheet, innerPt, hasPattern, density.patternGapPt));

  const grips = playedGrips(sheet).slice(0, 18);
  const perRow = Math.max(1, Math.floor((innerPt + 6) / (BOX_WIDTH_PT + 6)));
  const rows = Math.ceil(grips.length / perRow);
  const evenRow = rows > 0 ? Math.ceil(grips.length / rows) : perRow;
  for (let row = 0; row < rows; row++) {
    const inRow = grips.slice(row * evenRow, (row + 1) * evenRow);
    const step = Math.min((innerPt - BOX_WIDTH_PT) / Math.max(1, evenRow - 1), BOX_WIDTH_PT + 26);
    const headPt = row === 0 ? 17 : 0;
    blocks.push({
      height: Math.max(...inRow.map(boxHeightPt)) + headPt,
      gap: row === 0 ? 16 : 4,
      draw: (pen, x, y) => {
        if (row === 0) heading(pen, `The grips${atCapo(sheet, false)}`, x, y, innerPt);
        for (const [idx, grip] of inRow.entries())
          drawChordBox(pen, grip, x + idx * step - 6, y + headPt, step, shapeName(sheet, grip.symbol));
      },
    });
  }

  for (const [idx, system] of systems.entries()) {
    const headPt = idx === 0 ? 22 : 0;
    blocks.push({
      height: systemHeight(system, sheet) + headPt,
      gap: idx === 0 ? 18 : 12,
      isSystem: true,
      draw: (pen, x, y) => {
        if (idx === 0) heading(pen, `The study${atCapo(sheet, notation)}`, x, y, innerPt);
        drawSystem(pen, sheet, system, x, y + headPt);
      },
    });
  }
  if (sheet.mode) blocks.push(...modeBlocks(sheet, probe, innerPt, density));
  return blocks;
}

/** What is counted from the capo, for the headings. */
const atCapo = (sheet: Sheet, notation: boolean): string =>
  sheet.capo === 0 ? "" : ` (${notation ? "written" : "frets"} from the capo, chord names as they sound)`;

/** The chord's name as held at the capo: B♭ at capo 3 is a G shape. */
function shapeName(sheet: Sheet, symbol: string): string {
  if (sheet.capo === 0) return "";
  const fifths = shiftFifths(
    sheet.mode ? signatureFifths(sheet.mode.tonic, sheet.mode.mode) : 0,
    -sheet.capo,
  );
  return symbol.replace(/(^|\/)([A-G][#b]*)/g, (_all, lead: string, name: string) => {
    const { step, alter } = spellPitch(60 + (pitchClassOf(name) ?? 0) - sheet.capo, fifths);
    return lead + step + (alter > 0 ? "#".repeat(alter) : "b".repeat(-alter));
  });
}

function patternBlock(sheet: Sheet, innerPt: number, hasPattern: boolean, gapPt: number): Block {
  const formWidth = sheet.form.length > 0 ? (hasPattern ? innerPt * 0.38 : innerPt) : 0;
  const patternWidth = hasPattern ? innerPt - (formWidth > 0 ? formWidth + 26 : 0) : 0;
  return {
    height: hasPattern ? patternHeight(gapPt) + 20 : 66,
    gap: 14,
    draw: (pen, x, y) => {
      if (hasPattern) {
        heading(pen, "The picking pattern", x, y, patternWidth);
        drawPattern(pen, sheet, x, y + 20, patternWidth, gapPt);
      }
      if (formWidth === 0) return;
      const fx = x + innerPt - formWidth;
      heading(pen, "The form", fx, y, formWidth);
      const used = drawForm(pen, sheet, fx, y + 24, formWidth);
      if (!hasPattern) return;
      const style = { face: "serif", sizePt: 9.6, color: COLORS.soft } as const;
      const lines = ["p thumb, i index, m middle, a ring finger.", departureLine(sheet)].flatMap((line) =>
        wrapText(pen, line, style, formWidth),
      );
      for (const [idx, line] of lines.entries()) pen.text(fx, y + 24 + used + 14 + idx * 12.5, line, style);
    },
  };
}

/** Which bars leave the pattern; the shorter list is told. "" when none does. */
function departureLine(sheet: Sheet): string {
  const away = [...new Set((sheet.pattern?.departures ?? []).map((d) => d.bar))];
  const whole = (sheet.pattern?.bars ?? []).filter((bar) => !away.includes(bar));
  if (away.length === 0) return "";
  if (whole.length > 0 && whole.length < away.length)
    return whole.length === 1
      ? `Bar ${whole[0]} has it whole; the others vary it.`
      : `Bars ${barList(whole)} have it whole; the others vary it.`;
  return away.length === 1
    ? `Bar ${away[0]} departs from the pattern.`
    : `Bars ${barList(away)} depart from the pattern.`;
}

function modeBlocks(sheet: Sheet, probe: Pen, innerPt: number, density: Setting["density"]): Block[] {
  const style = { face: "serif", sizePt: 11 } as const;
  const { leadingPt, mapGapPt } = density;
  const lines = wrapText(probe, whySentences(sheet).map(withSigns).join(" "), style, innerPt);
  return [
    {
      height: 22 + lines.length * leadingPt,
      gap: 18,
      draw: (pen, x, y) => {
        heading(pen, `Why this is in ${modeLabel(sheet)}`, x, y, innerPt);
        for (const [idx, line] of lines.entries()) pen.text(x, y + 30 + idx * leadingPt, line, style);
      },
    },
    {
      height: mapHeight(mapGapPt) + 22,
      gap: 16,
      draw: (pen, x, y) => {
        heading(pen, `The scale to improvise with: ${withSigns(scaleNotes(sheet))}`, x, y, innerPt);
        drawScaleMap(pen, sheet, x, y + 22, innerPt, mapGapPt);
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
