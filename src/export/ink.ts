/** Drawing on a handout page: text with true ♭ and ♯, lines, circles. Coordinates and sizes are points from the page's upper left corner.
 * A pen collects SVG text; what needs fonts measures them by the deps that were handed in. */
import type { Face, FontFile, HandoutDeps } from "./handout-deps.js";
import { escapeXml } from "./xml.js";

/** The handout's colours: ink, a clay accent that prints as dark grey, its tint, a hairline. Chosen to hold in black and white. */
export const COLORS = {
  ink: "#211d19",
  soft: "#6f675e",
  accent: "#9a3f24",
  tint: "#f6efe7",
  line: "#cfc5b9",
} as const;

export type TextStyle = { face: Face; sizePt: number; color?: string; anchor?: "start" | "middle" | "end" };

export type Pen = {
  parts: string[];
  text: (x: number, y: number, text: string, style: TextStyle) => void;
  width: (text: string, style: TextStyle) => number;
  line: (x1: number, y1: number, x2: number, y2: number, color: string, widthPt: number) => void;
  circle: (
    x: number,
    y: number,
    radius: number,
    fill: string,
    stroke?: string,
    widthPt?: number,
    dash?: string,
  ) => void;
  rect: (
    x: number,
    y: number,
    width: number,
    height: number,
    fill: string,
    stroke?: string,
    radius?: number,
  ) => void;
  raw: (svg: string) => void;
};

export const num = (x: number): string => String(Math.round(x * 100) / 100);

export function makePen(deps: HandoutDeps): Pen {
  const parts: string[] = [];
  const width = (text: string, style: TextStyle): number =>
    fontRuns(text, style.face, deps.fonts).reduce(
      (sum, run) => sum + deps.measure(run.text, run.family, style.sizePt * run.scale),
      0,
    );
  return {
    parts,
    width,
    text: (x, y, text, style) => {
      const total = style.anchor === undefined || style.anchor === "start" ? 0 : width(text, style);
      let at = x - (style.anchor === "end" ? total : style.anchor === "middle" ? total / 2 : 0);
      for (const run of fontRuns(text, style.face, deps.fonts)) {
        parts.push(
          `<text x="${num(at)}" y="${num(y - run.raise * style.sizePt)}" font-family="${run.family}" font-size="${num(style.sizePt * run.scale)}" fill="${style.color ?? COLORS.ink}" xml:space="preserve">${escapeXml(run.text)}</text>`,
        );
        at += deps.measure(run.text, run.family, style.sizePt * run.scale);
      }
    },
    line: (x1, y1, x2, y2, color, widthPt) =>
      parts.push(
        `<line x1="${num(x1)}" y1="${num(y1)}" x2="${num(x2)}" y2="${num(y2)}" stroke="${color}" stroke-width="${num(widthPt)}"/>`,
      ),
    circle: (x, y, radius, fill, stroke, widthPt, dash) =>
      parts.push(
        `<circle cx="${num(x)}" cy="${num(y)}" r="${num(radius)}" fill="${fill}"${stroke ? ` stroke="${stroke}" stroke-width="${num(widthPt ?? 0.8)}"` : ""}${dash ? ` stroke-dasharray="${dash}"` : ""}/>`,
      ),
    rect: (x, y, w, h, fill, stroke, radius) =>
      parts.push(
        `<rect x="${num(x)}" y="${num(y)}" width="${num(w)}" height="${num(h)}" fill="${fill}"${radius ? ` rx="${num(radius)}"` : ""}${stroke ? ` stroke="${stroke}" stroke-width="0.6"` : ""}/>`,
      ),
    raw: (svg) => parts.push(svg),
  };
}

/** A stretch of text in one font file; scale and raise (in ems) fit a sign to the letters beside it. */
type FontRun = { text: string; family: string; scale: number; raise: number };
/** The music face draws ♭ ♯ for a staff, small beside letters: looked at in print, this much larger and higher reads as one word. */
const SIGN_SCALE = 1.25;
const SIGN_RAISE = 0.08;

/** The text cut where another font file has to take over; a character that no file of the face has is left to the first file. */
function fontRuns(text: string, face: Face, fonts: readonly FontFile[]): FontRun[] {
  const files = fonts.filter((f) => f.face === face);
  const signs = fonts.filter((f) => f.face === "music");
  const runs: FontRun[] = [];
  for (const char of text) {
    const code = char.codePointAt(0) ?? 0;
    const has = (f: FontFile): boolean => f.covers.some(([from, to]) => code >= from && code <= to);
    const file = files.find(has) ?? signs.find(has) ?? files[0];
    if (!file) continue;
    const last = runs.at(-1);
    if (last?.family === file.family) last.text += char;
    else {
      const isSign = file.face === "music" && face !== "music";
      runs.push({
        text: char,
        family: file.family,
        scale: isSign ? SIGN_SCALE : 1,
        raise: isSign ? SIGN_RAISE : 0,
      });
    }
  }
  return runs;
}

/** Note names and degrees with printed signs: "F#m7b5/C#" → "F♯m7♭5/C♯", "b7" → "♭7". Words are left alone. */
export function withSigns(text: string): string {
  return text
    .replace(
      /(?<![A-Za-z])([A-G])(#{1,2}|b{1,2})(?=$|[^a-z]|maj|m(?![a-z])|madd|mmaj|add|sus|dim|aug|b\d)/g,
      (_all, letter: string, signs: string) => letter + toSigns(signs),
    )
    .replace(/(?<![A-Za-z0-9])([#b])(?=\d)/g, (_all, sign: string) => toSigns(sign))
    .replace(/(?<=[A-G♯♭m0-9j)(s])([#b])(?=\d)/g, (_all, sign: string) => toSigns(sign));
}

const toSigns = (signs: string): string => signs.replaceAll("#", "♯").replaceAll("b", "♭");

/** Words set into lines no wider than `widthPt`. */
export function wrapText(pen: Pen, text: string, style: TextStyle, widthPt: number): string[] {
  const lines: string[] = [];
  let current = "";
  for (const word of text.split(/\s+/).filter((w) => w !== "")) {
    const longer = current === "" ? word : `${current} ${word}`;
    if (current !== "" && pen.width(longer, style) > widthPt) {
      lines.push(current);
      current = word;
    } else current = longer;
  }
  if (current !== "") lines.push(current);
  return lines;
}
