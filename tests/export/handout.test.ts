import { spawnSync } from "node:child_process";
import { expect, test } from "vitest";
import { openHandout } from "../../cli/engraver.js";
import { handoutPages, toPdf, toSvg } from "../../src/export/handout.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import { hasProgram, testNeeding } from "../helpers/needs.js";
import { namedStudies, studyNamed } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";

const poppler = hasProgram("pdftotext", ["-v"]) && hasProgram("pdfinfo", ["-v"]);
const run = (program: string, args: string[], input: Uint8Array): string => {
  const made = spawnSync(program, args, { input });
  expect(made.status, made.stderr.toString()).toBe(0);
  return made.stdout.toString();
};
const pagesOf = (text: string): string[] => text.split("\f").slice(0, -1);

testNeeding(
  poppler,
  "poppler's pdftotext and pdfinfo",
  "handout: title, chords, letters, reasons and page numbers can be read out of the PDF",
  async () => {
    const deps = await openHandout();
    const sheet = toSheet(studyNamed("mixolydian-over-a"));
    const pdf = await toPdf(sheet, handoutPages(sheet, deps), deps);
    const text = run("pdftotext", ["-layout", "-", "-"], pdf.bytes);
    for (const want of [
      "Mixolydian over A",
      "A mixolydian",
      "Standard tuning (E A D G B E)",
      "no capo",
      "The picking pattern",
      "The form",
      "The grips",
      "Why this is in A mixolydian",
      "G♯ never does",
      "♭7",
      "C♯",
      "D/A",
      "Em/A",
    ])
      expect(text, want).toContain(want);
    const pages = pagesOf(text);
    for (const [idx, page] of pages.entries()) expect(page).toContain(`Page ${idx + 1} of ${pages.length}`);
    // One letter a plucked note, none lost: count the p's of a line of letters.
    const letters = text
      .split("\n")
      .filter((line) => /^[\s\dpima]*$/.test(line) && /[pima]/.test(line))
      .join("");
    const thumbs = sheet.notes.filter((n) => n.finger === "p").length;
    expect(letters.match(/p/g)?.length ?? 0).toBeGreaterThanOrEqual(thumbs);
  },
);

testNeeding(
  poppler,
  "poppler's pdfinfo and pdffonts",
  "handout: A4 and Letter have their size, and every font is embedded",
  async () => {
    const deps = await openHandout();
    const sheet = toSheet(studyNamed("ladder-and-lamp"));
    for (const [paper, size] of [
      ["a4", "595.28 x 841.89 pts (A4)"],
      ["letter", "612 x 792 pts (letter)"],
    ] as const)
      for (const notation of [true, false]) {
        const pdf = await toPdf(sheet, handoutPages(sheet, deps, { paper, notation }), deps);
        expect(run("pdfinfo", ["-"], pdf.bytes)).toContain(size);
        const fonts = run("pdffonts", ["-"], pdf.bytes)
          .split("\n")
          .slice(2)
          .filter((l) => l.trim() !== "");
        expect(fonts.length).toBeGreaterThanOrEqual(4);
        for (const font of fonts) expect(font).toMatch(/yes\s+yes\s+yes/);
      }
  },
);

testNeeding(
  poppler,
  "poppler's pdftotext",
  "handout: flats, capo, dotted beat, drop D and swing are printed as a player says them",
  async () => {
    const deps = await openHandout();
    for (const [name, wants] of [
      ["ladder-and-lamp", ["capo 3", "B♭ ionian", "F/A", "D/F♯ shape"]],
      ["stones-in-the-brook", ["6/8", "♩. = "]],
      ["low-tide", ["Drop D (D A D G B E)", "D dorian"]],
      ["corner-table", ["swing"]],
      ["rain-on-slate", ["DADGAD (D A D G A D)"]],
    ] as const) {
      const sheet = toSheet(studyNamed(name));
      const pdf = await toPdf(sheet, handoutPages(sheet, deps), deps);
      const text = run("pdftotext", ["-layout", "-", "-"], pdf.bytes);
      for (const want of wants) expect(text, name).toContain(want);
    }
  },
);

test("handout: the same sheet gives the same SVG and the same PDF, byte for byte", async () => {
  const deps = await openHandout();
  const sheet = toSheet(studyNamed("low-tide"));
  const both = [handoutPages(sheet, deps), handoutPages(sheet, deps)];
  const [svg, svgAgain] = both.map((pages) => toSvg(sheet, pages, deps).bytes);
  const [pdf, pdfAgain] = await Promise.all(
    both.map(async (pages) => (await toPdf(sheet, pages, deps)).bytes),
  );
  expect(Buffer.from(svg as Uint8Array).equals(svgAgain as Uint8Array)).toBe(true);
  expect(Buffer.from(pdf as Uint8Array).equals(pdfAgain as Uint8Array)).toBe(true);
});

test("handout: no page of any study overflows its foot, none is empty, and none has a system alone", async () => {
  const deps = await openHandout();
  for (const study of namedStudies()) {
    for (const notation of [true, false]) {
      const pages = handoutPages(toSheet(study), deps, { notation });
      expect(pages.length, study.name).toBeLessThanOrEqual(5);
      for (const { svg, heightPt } of pages) {
        const ys = [...svg.matchAll(/<text x="[-\d.]+" y="([-\d.]+)"/g)].map((m) => Number(m[1]));
        expect(Math.max(...ys), study.name).toBeLessThan(heightPt - 20);
        expect(ys.length, study.name).toBeGreaterThan(10);
      }
      const systems = pages.map(({ svg }) => svg.match(/<g transform="translate[^>]*><defs>/g)?.length ?? 0);
      expect(systems.filter((n) => n > 0).length, study.name).toBeGreaterThan(0);
      if (systems.reduce((sum, n) => sum + n, 0) > 1) expect(systems, study.name).not.toContain(1);
    }
  }
});

test("handout: every fret of the sheet is printed, each at its own string's height", async () => {
  const deps = await openHandout();
  const sheet = toSheet(studyNamed("three-windows"));
  const pages = handoutPages(sheet, deps, { notation: false });
  const frets = pages.flatMap((p) =>
    [...p.svg.matchAll(/font-family="sans-bold latin" font-size="9.6"[^>]*>(\d+)</g)].map((m) => m[1]),
  );
  expect(frets.length).toBe(sheet.notes.length);
  const want = [...sheet.notes].map((n) => String(n.fret)).sort();
  expect([...frets].sort()).toEqual(want);
});

test("handout: an empty sheet and one with nothing but notes still make a page", async () => {
  const deps = await openHandout();
  const full = toSheet(studyNamed("low-tide"));
  const { mode: _mode, pattern: _pattern, ...rest } = full;
  const bare: Sheet = { ...rest, title: "", chords: [], form: [] };
  expect(handoutPages(bare, deps).length).toBeGreaterThanOrEqual(1);
  expect(handoutPages({ ...bare, notes: [], grid: { ...bare.grid, barCount: 0 } }, deps).length).toBe(1);
});
