/** Opens what a handout needs and the pure part may not touch: verovio (engraving), pdfkit (PDF), the fonts of the @fontsource packages. */
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { dirname, join } from "node:path";
import PDFDocument from "pdfkit";
import SVGtoPDF from "svg-to-pdfkit";
import { VerovioToolkit } from "verovio/esm";
import createVerovioModule from "verovio/wasm";
import { PulgarError } from "../src/base/errors.js";
import type { Face, FontFile, HandoutDeps, HandoutPage, PdfInfo } from "../src/export/handout-deps.js";

/** Package, weight and slant of each face. All three families are under the SIL Open Font License 1.1. */
const FACES: readonly { face: Face; pack: string; weight: number; style: "normal" | "italic" }[] = [
  { face: "serif", pack: "alegreya", weight: 400, style: "normal" },
  { face: "serif-bold", pack: "alegreya", weight: 700, style: "normal" },
  { face: "serif-italic", pack: "alegreya", weight: 500, style: "italic" },
  { face: "sans", pack: "source-sans-3", weight: 400, style: "normal" },
  { face: "sans-bold", pack: "source-sans-3", weight: 700, style: "normal" },
  { face: "music", pack: "noto-music", weight: 400, style: "normal" },
];

let opened: Promise<HandoutDeps> | undefined;

/** The engraver, fonts and PDF writer, opened once a run (about 0.3 s). */
export function openHandout(): Promise<HandoutDeps> {
  opened ??= open();
  return opened;
}

async function open(): Promise<HandoutDeps> {
  const toolkit = new VerovioToolkit(await createVerovioModule());
  const fonts = loadFonts();
  const ruler = new PDFDocument({ autoFirstPage: false });
  for (const font of fonts) ruler.registerFont(font.family, Buffer.from(font.bytes));
  const widths = new Map<string, number>();
  return {
    engrave: (musicXml, options) => {
      toolkit.setOptions({ ...options, fontLoadAll: false });
      if (!toolkit.loadData(musicXml))
        throw new Error(`the engraver refused its own score: ${toolkit.getLog()}`);
      return Array.from({ length: toolkit.getPageCount() }, (_, idx) => toolkit.renderToSVG(idx + 1));
    },
    fonts,
    measure: (text, family, sizePt) => {
      const key = `${family}\n${text}`;
      let perPoint = widths.get(key);
      if (perPoint === undefined) {
        perPoint = ruler.font(family).fontSize(100).widthOfString(text) / 100;
        widths.set(key, perPoint);
      }
      return perPoint * sizePt;
    },
    pdf: (pages, info) => writePdf(pages, info, fonts),
  };
}

function loadFonts(): FontFile[] {
  const require = createRequire(import.meta.url);
  const fonts: FontFile[] = [];
  for (const { face, pack, weight, style } of FACES) {
    let folder: string;
    try {
      folder = dirname(require.resolve(`@fontsource/${pack}/package.json`));
    } catch (cause) {
      throw new PulgarError(
        "not-found",
        `the font package @fontsource/${pack} is not installed`,
        "Run npm install again.",
        cause,
      );
    }
    const ranges = JSON.parse(readFileSync(join(folder, "unicode.json"), "utf8")) as Record<string, string>;
    for (const script of face === "music"
      ? ["music"]
      : ["latin", "latin-ext", "cyrillic", "greek", "vietnamese"]) {
      const covers = ranges[script];
      if (covers === undefined) continue;
      fonts.push({
        face,
        family: `${face} ${script}`,
        covers: parseRanges(covers),
        bytes: readFileSync(join(folder, "files", `${pack}-${script}-${weight}-${style}.woff`)),
        mediaType: "font/woff",
      });
    }
  }
  return fonts;
}

/** "U+0000-00FF,U+0131" as pairs of code points. */
function parseRanges(text: string): [number, number][] {
  return [...text.matchAll(/U\+([0-9A-F]+)(?:-([0-9A-F]+))?/gi)].map(([, from, to]) => [
    Number.parseInt(from ?? "0", 16),
    Number.parseInt(to ?? from ?? "0", 16),
  ]);
}

function writePdf(
  pages: readonly HandoutPage[],
  info: PdfInfo,
  fonts: readonly FontFile[],
): Promise<Uint8Array> {
  return new Promise((done, failed) => {
    const doc = new PDFDocument({
      autoFirstPage: false,
      compress: true,
      // A fixed date: the same sheet gives the same bytes.
      info: {
        Title: info.title,
        Author: info.author,
        Subject: info.subject,
        Creator: "pulgar",
        CreationDate: new Date(0),
      },
    });
    const chunks: Buffer[] = [];
    doc.on("data", (chunk: Buffer) => chunks.push(chunk));
    doc.on("end", () => done(new Uint8Array(Buffer.concat(chunks))));
    doc.on("error", failed);
    for (const font of fonts)
      if (pages.some((page) => page.svg.includes(`font-family="${font.family}"`)))
        doc.registerFont(font.family, Buffer.from(font.bytes));
    for (const page of pages) {
      doc.addPage({ size: [page.widthPt, page.heightPt], margin: 0 });
      SVGtoPDF(doc, page.svg, 0, 0, {
        assumePt: true,
        width: page.widthPt,
        height: page.heightPt,
        fontCallback: (family: string) => family,
      });
    }
    doc.end();
  });
}
