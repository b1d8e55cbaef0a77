/** Every row of the page's list of keys, pressed in real Chromium: each does what its words say. What is expected stands beside the key, by hand. */
import type { Page } from "playwright-core";
import { afterAll, beforeAll, expect, test } from "vitest";
import { type Sheet, UNSURE_BELOW } from "../../../src/sheet/sheet.js";
import {
  describePage,
  drop,
  type Folder,
  goTo,
  noteAt,
  onDisk,
  openPage,
  press,
  review,
  reviewFolder,
} from "./review-fixture.js";

/** What can be seen of the page, and the sheet on disk. */
type Seen = {
  caret: string;
  said: string;
  sound: string;
  speed: string;
  isLooping: boolean;
  isPlaying: boolean;
  barPx: number;
  isFilmLarge: boolean;
  keysShown: boolean;
  form: string;
  span: boolean;
  sheet: Sheet;
};

type Row = {
  shown: string;
  at?: readonly [number, number, number];
  before?: readonly string[];
  press: readonly string[];
  expected: (was: Seen, is: Seen) => void;
};

const caretIs =
  (caret: string) =>
  (_: Seen, is: Seen): void =>
    expect(is.caret).toBe(caret);
const formIs =
  (title: RegExp) =>
  (_: Seen, is: Seen): void =>
    expect(is.form).toMatch(title);

/** The draft: mixolydian-over-a, C#4 (string 2 fret 2) at bar 1 beat 2; every seventh note unsure. */
const ROWS: readonly Row[] = [
  {
    shown: "Space",
    press: ["Space"],
    expected: (was, is) => expect([was.isPlaying, is.isPlaying]).toEqual([false, true]),
  },
  { shown: "Shift Space", press: ["Shift+Space"], expected: (_, is) => expect(is.isPlaying).toBe(true) },
  {
    shown: "L",
    press: ["l"],
    expected: (was, is) => expect([was.sound, is.sound]).toEqual(["recording", "sheet"]),
  },
  {
    shown: "R",
    press: ["r"],
    expected: (was, is) => expect([was.isLooping, is.isLooping]).toEqual([false, true]),
  },
  { shown: "−", press: ["-"], expected: (_, is) => expect(is.speed).toBe("90 %") },
  {
    shown: "+",
    before: ["-", "-"],
    press: ["+"],
    expected: (was, is) => expect([was.speed, is.speed]).toEqual(["80 %", "90 %"]),
  },
  { shown: "←", at: [1, 24, 2], press: ["ArrowLeft"], expected: caretIs("1:12:2") },
  { shown: "→", at: [1, 24, 2], press: ["ArrowRight"], expected: caretIs("1:36:2") },
  { shown: "↑", at: [1, 24, 2], press: ["ArrowUp"], expected: caretIs("1:24:1") },
  { shown: "↓", at: [1, 24, 2], press: ["ArrowDown"], expected: caretIs("1:24:3") },
  { shown: "Page up", at: [2, 0, 2], press: ["PageUp"], expected: caretIs("1:0:2") },
  { shown: "Page down", at: [1, 24, 2], press: ["PageDown"], expected: caretIs("2:0:2") },
  { shown: "Home", at: [3, 12, 3], press: ["Home"], expected: caretIs("1:0:3") },
  {
    shown: "End",
    at: [1, 0, 3],
    press: ["End"],
    expected: (_, is) => expect(is.caret).toBe(`${is.sheet.grid.barCount}:0:3`),
  },
  { shown: "N", press: ["n"], expected: caretIs("1:36:1") },
  {
    shown: "Shift N",
    at: [1, 0, 5],
    press: ["Shift+N"],
    expected: (_, is) => {
      const last = is.sheet.notes.findLast((n) => n.confidence < UNSURE_BELOW);
      expect(is.caret).toBe(`${last?.bar}:${last?.tick}:${last?.string}`);
    },
  },
  {
    shown: "D",
    at: [3, 12, 3],
    before: ["5", "wait for ≠", "Home"],
    press: ["d"],
    expected: caretIs("3:0:3"),
  },
  {
    shown: "Shift D",
    at: [3, 12, 3],
    before: ["5", "wait for ≠", "End"],
    press: ["Shift+D"],
    expected: caretIs("3:0:3"),
  },
  {
    shown: "Shift →",
    press: ["Shift+ArrowRight"],
    expected: (was, is) => expect([was.span, is.span]).toEqual([false, true]),
  },
  {
    shown: "Shift ←",
    at: [1, 24, 2],
    press: ["Shift+ArrowLeft"],
    expected: (was, is) => expect([was.span, is.span]).toEqual([false, true]),
  },
  { shown: "S", press: ["s"], expected: (_, is) => expect(is.said).toContain("third of a beat") },
  { shown: "Shift S", press: ["Shift+S"], expected: (_, is) => expect(is.said).toContain("whole beat") },
  {
    shown: "0 … 24",
    at: [1, 24, 2],
    press: ["1", "4"],
    expected: (_, is) => expect(noteAt(is.sheet, 1, 24, 2)?.fret).toBe(14),
  },
  {
    shown: "Del",
    at: [1, 24, 2],
    press: ["Delete"],
    expected: (_, is) => expect(noteAt(is.sheet, 1, 24, 2)).toBeUndefined(),
  },
  {
    shown: "Alt ↑",
    at: [1, 24, 2],
    before: ["Alt+ArrowDown"],
    press: ["Alt+ArrowUp"],
    expected: (was, is) => {
      expect(noteAt(was.sheet, 1, 24, 3)?.fret).toBe(6);
      expect(noteAt(is.sheet, 1, 24, 2)).toMatchObject({ fret: 2, midi: 61 });
    },
  },
  {
    shown: "Alt ↓",
    at: [1, 24, 2],
    press: ["Alt+ArrowDown"],
    expected: (_, is) => expect(noteAt(is.sheet, 1, 24, 3)).toMatchObject({ fret: 6, midi: 61 }),
  },
  {
    shown: "Alt ←",
    at: [1, 24, 2],
    press: ["s", "s", "Alt+ArrowLeft"],
    expected: (_, is) => expect(noteAt(is.sheet, 1, 18, 2)?.fret).toBe(2),
  },
  {
    shown: "Alt →",
    at: [1, 24, 2],
    press: ["Alt+ArrowRight"],
    expected: (_, is) => expect(noteAt(is.sheet, 1, 36, 2)?.fret).toBe(2),
  },
  {
    shown: "[",
    at: [1, 24, 2],
    press: ["["],
    expected: (was, is) =>
      expect(noteAt(is.sheet, 1, 24, 2)?.lengthTicks).toBe(
        (noteAt(was.sheet, 1, 24, 2)?.lengthTicks ?? 0) - 12,
      ),
  },
  {
    shown: "]",
    at: [1, 24, 2],
    press: ["]"],
    expected: (was, is) =>
      expect(noteAt(is.sheet, 1, 24, 2)?.lengthTicks).toBe(
        (noteAt(was.sheet, 1, 24, 2)?.lengthTicks ?? 0) + 12,
      ),
  },
  {
    shown: "P I M A",
    at: [1, 24, 2],
    press: ["p"],
    expected: (_, is) => expect(noteAt(is.sheet, 1, 24, 2)).toMatchObject({ finger: "p", by: "hand" }),
  },
  {
    shown: "Alt 0 … 4",
    at: [1, 24, 2],
    press: ["Alt+4"],
    expected: (_, is) => expect(noteAt(is.sheet, 1, 24, 2)?.leftFinger).toBe(4),
  },
  {
    shown: "O",
    at: [1, 24, 2],
    before: ["Alt+ArrowDown"],
    press: ["o"],
    expected: (_, is) => expect(noteAt(is.sheet, 1, 24, 2)).toMatchObject({ fret: 2, by: "hand" }),
  },
  {
    shown: "Shift O",
    at: [1, 24, 2],
    before: ["Alt+ArrowDown", "Alt+ArrowDown"],
    press: ["Shift+O", "Shift+O"],
    expected: (was, is) => {
      expect(noteAt(was.sheet, 1, 24, 4)).toMatchObject({ fret: 11, midi: 61 }); // two other places: strings 3 and 2, taken in turn
      expect(noteAt(is.sheet, 1, 24, 3)).toMatchObject({ fret: 6, midi: 61 });
    },
  },
  {
    shown: "E",
    at: [1, 24, 2],
    press: ["e", "Space", "Enter"],
    expected: (_, is) =>
      expect(noteAt(is.sheet, 1, 24, 2)).toMatchObject({ marks: ["hammer-on"], by: "hand" }),
  },
  {
    shown: "Enter",
    at: [1, 36, 1],
    press: ["Enter"],
    expected: (was, is) =>
      expect([noteAt(was.sheet, 1, 36, 1)?.by, noteAt(is.sheet, 1, 36, 1)?.by]).toEqual(["machine", "hand"]),
  },
  {
    shown: "Shift Enter",
    press: ["Shift+Enter"],
    expected: (_, is) =>
      expect(is.sheet.notes.filter((n) => n.bar === 1).every((n) => n.by === "hand")).toBe(true),
  },
  {
    shown: "Shift R",
    at: [1, 24, 2],
    before: ["Enter"],
    press: ["Shift+R"],
    expected: (was, is) =>
      expect([noteAt(was.sheet, 1, 24, 2)?.by, noteAt(is.sheet, 1, 24, 2)?.by]).toEqual(["hand", "machine"]),
  },
  { shown: "C", press: ["c"], expected: formIs(/^Chord of bar 1/) },
  { shown: "G", press: ["g"], expected: formIs(/^Grid/) },
  {
    shown: "B",
    at: [1, 24, 2],
    press: ["b"],
    expected: (was, is) =>
      expect(is.sheet.grid.firstBeatSec - was.sheet.grid.firstBeatSec).toBeCloseTo(60 / 96, 1),
  },
  {
    shown: ",",
    press: [","],
    expected: (was, is) =>
      expect(is.sheet.grid.firstBeatSec).toBeCloseTo(was.sheet.grid.firstBeatSec - 0.01, 3),
  },
  {
    shown: ".",
    press: ["."],
    expected: (was, is) =>
      expect(is.sheet.grid.firstBeatSec).toBeCloseTo(was.sheet.grid.firstBeatSec + 0.01, 3),
  },
  { shown: "T", press: ["t"], expected: formIs(/^Title/) },
  { shown: "Shift M", press: ["Shift+M"], expected: formIs(/^Key or mode/) },
  {
    shown: "Y",
    at: [1, 24, 2],
    before: ["5"],
    press: ["y"],
    expected: (_, is) => {
      const alike = is.sheet.groupOfBar.flatMap((g, k) => (g === is.sheet.groupOfBar[0] ? [k + 1] : []));
      expect(alike.length).toBeGreaterThan(1);
      expect(alike.map((bar) => noteAt(is.sheet, bar, 24, 2)?.fret)).toEqual(alike.map(() => 5));
    },
  },
  {
    shown: "U",
    at: [1, 24, 2],
    before: ["5"],
    press: ["u"],
    expected: (was, is) =>
      expect([noteAt(was.sheet, 1, 24, 2)?.fret, noteAt(is.sheet, 1, 24, 2)?.fret]).toEqual([5, 2]),
  },
  {
    shown: "Shift U",
    at: [1, 24, 2],
    before: ["5", "u"],
    press: ["Shift+U"],
    expected: (was, is) =>
      expect([noteAt(was.sheet, 1, 24, 2)?.fret, noteAt(is.sheet, 1, 24, 2)?.fret]).toEqual([2, 5]),
  },
  {
    shown: "Esc",
    before: ["r", "Shift+ArrowRight"],
    press: ["Escape"],
    expected: (was, is) =>
      expect([was.span, was.isLooping, is.span, is.isLooping]).toEqual([true, true, false, false]),
  },
  { shown: "Z", press: ["z"], expected: (was, is) => expect(is.barPx / was.barPx).toBeCloseTo(1.25, 1) },
  {
    shown: "Shift Z",
    press: ["Shift+Z"],
    expected: (was, is) => expect(is.barPx / was.barPx).toBeCloseTo(0.8, 1),
  },
  { shown: "H", press: ["h"], expected: (_, is) => expect(is.said).toContain("Doubtful sounds shown") },
  {
    shown: "V",
    press: ["v"],
    expected: (was, is) => expect([was.isFilmLarge, is.isFilmLarge]).toEqual([false, true]),
  },
  {
    shown: "?",
    press: ["?"],
    expected: (was, is) => expect([was.keysShown, is.keysShown]).toEqual([true, false]),
  },
];

describePage("every key of the review page", (stage) => {
  let page: Page;
  let folder: Folder;
  let opened: Awaited<ReturnType<typeof review>>;
  beforeAll(async () => {
    folder = await reviewFolder();
    opened = await review(folder, stage.pageDir);
  });
  afterAll(async () => {
    await opened.close();
    await drop(folder.dir);
  });

  const see = async (): Promise<Seen> => ({
    ...(await page.evaluate(() => {
      const find = <T extends HTMLElement>(css: string): T => document.querySelector<T>(css) as T;
      return {
        caret: find("#lane").dataset.caret ?? "",
        said: `${find("#where").textContent} ${find("#notices").textContent}`,
        sound: find<HTMLSelectElement>("#sound").value,
        speed: find("#speed-words").textContent ?? "",
        isLooping: find("#do-loop").ariaPressed === "true",
        isPlaying: find("#do-play").textContent === "■",
        barPx: find('[data-bar="1"], .bar').getBoundingClientRect().width,
        isFilmLarge: document.body.classList.contains("film-large"),
        keysShown: find("#keys").offsetParent !== null,
        form: document.querySelector("dialog[open] h2")?.textContent ?? "",
        span: !find("#span").hidden,
      };
    })),
    sheet: await onDisk(folder),
  });

  test("review keys: the list on the page and this one are the same", async () => {
    page = await openPage(stage.browser, opened.page.address);
    const listed = await page.locator("#keys kbd").allTextContents();
    expect(listed.toSorted()).toEqual(ROWS.map((row) => row.shown).toSorted());
    await page.close();
  });

  for (const row of ROWS)
    test(`review keys: ${row.shown}`, async () => {
      page = await openPage(stage.browser, opened.page.address);
      while (!(await page.locator("#do-undo").isDisabled())) await press(page, "u"); // as it was drafted
      await press(page, "Home");
      await goTo(page, ...(row.at ?? [1, 0, 5]));
      for (const key of row.before ?? [])
        if (key === "wait for ≠")
          await expect.poll(() => page.locator("#bar-box .verdict").textContent()).toContain("differs");
        else await press(page, key);
      const was = await see();
      await press(page, ...row.press);
      row.expected(was, await see());
      await page.close();
    });
});
