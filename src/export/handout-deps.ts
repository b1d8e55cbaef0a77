/** What a handout needs from outside the pure part: an engraver, fonts, a measure of text, a PDF writer. Opened in cli/engraver.ts. */

/** Names of the faces a handout is set in; a file is chosen by face and script. */
export type Face = "serif" | "serif-bold" | "serif-italic" | "sans" | "sans-bold" | "music";

/** One font file. `family` is unique to the file and used as font-family in every SVG.
 * @property covers ranges of code points, first and last inclusive */
export type FontFile = {
  face: Face;
  family: string;
  covers: readonly (readonly [number, number])[];
  bytes: Uint8Array;
  mediaType: string;
};

/** One finished page: SVG with text in the families of the font files, sizes in points (1/72 inch). */
export type HandoutPage = { svg: string; widthPt: number; heightPt: number };

export type PdfInfo = { title: string; author: string; subject: string };

export type HandoutDeps = {
  /** MusicXML → one SVG for each page of the engraver. */
  engrave: (musicXml: string, options: Record<string, unknown>) => string[];
  fonts: readonly FontFile[];
  /** Width in points of a text in one font family. */
  measure: (text: string, family: string, sizePt: number) => number;
  /** Pages → PDF bytes with the fonts embedded. */
  pdf: (pages: readonly HandoutPage[], info: PdfInfo) => Promise<Uint8Array>;
};
