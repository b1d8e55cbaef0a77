// Pages of the handout beside approved pictures (tests/fixtures/handouts, looked at by eye before they are committed).
// UPDATE_PICTURES=1 npx vitest run tests/export/pictures.test.ts   draws them anew; look at every page before committing.
import { spawnSync } from "node:child_process";
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { expect, test } from "vitest";
import { openHandout } from "../../cli/engraver.js";
import { type HandoutOptions, handoutPages, toPdf } from "../../src/export/handout.js";
import { readSheet } from "../../src/sheet/read-any.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import {
  type GrayPicture,
  readGrayPng,
  readPgm,
  worstSquare,
  writeGrayPng,
} from "../helpers/gray-picture.js";
import { hasProgram, ROOT, testNeeding } from "../helpers/needs.js";

const FOLDER = join(ROOT, "tests/fixtures/handouts");
const UPDATE = process.env.UPDATE_PICTURES === "1";
const DPI = 50;
/** Means of squares of 8 pixels (4 mm) may differ by this many of 255 levels. A picking letter that is gone moves one by more than 12, another fret by more than 5. */
const TOLERANCE = 4;
const SIDE = 8;
const MOST_BYTES = 300_000;

/** The samples' music as true sheets, and one with repeats, endings and notation. */
const HANDOUTS: readonly (readonly [name: string, options: HandoutOptions])[] = [
  ["mixolydian-over-a", { notation: false }],
  ["stones-in-the-brook", { notation: false }],
  ["ladder-and-lamp", { notation: false }],
  ["low-tide", { notation: true }],
  ["half-open-door", { notation: false, paper: "letter" }],
  ["three-windows", { notation: true, paper: "letter" }],
];

const sheetOf = (name: string): Sheet => {
  const path = `${name}.tab.txt`;
  const read = readSheet(new Uint8Array(readFileSync(join(FOLDER, path))), path);
  if (read.kind !== "tab") throw new Error(`${path} is no tab`);
  return read.sheet;
};

/** The pages of a sheet's PDF, in order. */
async function drawn(sheet: Sheet, options: HandoutOptions): Promise<GrayPicture[]> {
  const deps = await openHandout();
  const pdf = await toPdf(sheet, handoutPages(sheet, deps, options), deps);
  const folder = mkdtempSync(join(tmpdir(), "pulgar-pictures-"));
  try {
    writeFileSync(join(folder, "in.pdf"), pdf.bytes);
    const made = spawnSync("pdftoppm", ["-r", `${DPI}`, "-gray", "in.pdf", "page"], { cwd: folder });
    expect(made.status, made.stderr.toString()).toBe(0);
    const pages = readdirSync(folder).filter((f) => f.endsWith(".pgm"));
    return pages.sort().map((f) => readPgm(new Uint8Array(readFileSync(join(folder, f)))));
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

const poppler = hasProgram("pdftoppm", ["-v"]);
const fileOf = (name: string, page: number): string => join(FOLDER, `${name}-${page}.png`);

for (const [name, options] of HANDOUTS)
  testNeeding(
    poppler,
    "poppler's pdftoppm",
    `pictures: the handout of ${name} looks as it was approved`,
    async () => {
      const pages = await drawn(sheetOf(name), options);
      if (UPDATE)
        for (const [idx, page] of pages.entries()) writeFileSync(fileOf(name, idx + 1), writeGrayPng(page));
      expect(existsSync(fileOf(name, pages.length + 1)), "a page is gone").toBe(false);
      for (const [idx, page] of pages.entries()) {
        const approved = readGrayPng(new Uint8Array(readFileSync(fileOf(name, idx + 1))));
        expect(worstSquare(page, approved, SIDE), `page ${idx + 1}`).toBeLessThan(TOLERANCE);
      }
    },
  );

testNeeding(
  poppler,
  "poppler's pdftoppm",
  "pictures: a letter less, another fret or a line more is seen",
  async () => {
    const sheet = sheetOf("mixolydian-over-a");
    const options = { notation: false };
    const approved = readGrayPng(new Uint8Array(readFileSync(fileOf("mixolydian-over-a", 1))));
    const { finger: _finger, ...unlettered } = sheet.notes[3] as Sheet["notes"][number];
    const changes: Sheet[] = [
      { ...sheet, notes: sheet.notes.map((n, k) => (k === 3 ? unlettered : n)) },
      { ...sheet, notes: sheet.notes.map((n, k) => (k === 3 ? { ...n, fret: 12 } : n)) },
      { ...sheet, composer: "Somebody" },
    ];
    for (const changed of changes) {
      const [page] = await drawn(changed, options);
      expect(worstSquare(page as GrayPicture, approved, SIDE)).toBeGreaterThan(TOLERANCE);
    }
  },
);

test("pictures: there is one for each handout at least, and together they stay small", () => {
  const pictures = readdirSync(FOLDER).filter((f) => f.endsWith(".png"));
  for (const [name] of HANDOUTS) expect(pictures).toContain(`${name}-1.png`);
  const bytes = pictures.reduce((sum, f) => sum + readFileSync(join(FOLDER, f)).length, 0);
  expect(bytes).toBeLessThan(MOST_BYTES);
});
