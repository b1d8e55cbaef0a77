/** The page on a tablet, by fingers alone, in Chromium's touch emulation: what a keyboard can do, taps can too. */
import type { Page } from "playwright-core";
import { afterEach, beforeEach, expect, test } from "vitest";
import {
  describePage,
  drop,
  type Folder,
  noteAt,
  onDisk,
  review,
  reviewFolder,
  settled,
} from "./review-fixture.js";

describePage("review page by touch", (stage) => {
  let folder: Folder;
  let opened: Awaited<ReturnType<typeof review>>;
  let page: Page;
  beforeEach(async () => {
    folder = await reviewFolder();
    opened = await review(folder, stage.pageDir);
    const tablet = await stage.browser.newContext({
      viewport: { width: 820, height: 1180 },
      hasTouch: true,
      isMobile: true,
    });
    page = await tablet.newPage();
    await page.goto(opened.page.address);
    await page.waitForSelector("body.ready");
  });
  afterEach(async () => {
    await page.context().close();
    await opened.close();
    await drop(folder.dir);
  });

  const tap = async (...selectors: string[]): Promise<void> => {
    for (const selector of selectors) {
      await page.tap(selector);
      await settled(page);
    }
  };
  const panel = (name: string): string => `#panel button:text-is("${name}")`;
  const middle = async (selector: string): Promise<{ x: number; y: number }> => {
    const box = await page.locator(selector).boundingBox();
    if (!box) throw new Error(`no ${selector}`);
    return { x: box.x + box.width / 2, y: box.y + box.height / 2 };
  };

  /** One or two fingers that go from place to place, resting first. */
  async function swipe(
    fingers: readonly { from: { x: number; y: number }; to: { x: number; y: number } }[],
    restMs: number,
  ): Promise<void> {
    const cdp = await page.context().newCDPSession(page);
    const at = (share: number) =>
      fingers.map(({ from, to }, id) => ({
        x: from.x + share * (to.x - from.x),
        y: from.y + share * (to.y - from.y),
        id,
      }));
    await cdp.send("Input.dispatchTouchEvent", { type: "touchStart", touchPoints: at(0) });
    await page.waitForTimeout(restMs);
    for (const share of [0.25, 0.5, 0.75, 1])
      await cdp.send("Input.dispatchTouchEvent", { type: "touchMove", touchPoints: at(share) });
    await cdp.send("Input.dispatchTouchEvent", { type: "touchEnd", touchPoints: [] });
    await settled(page);
  }

  test("review touch: a note tapped, mended, taken out, written anew, undone", async () => {
    await tap('[data-id="1:24:2"]');
    await page.selectOption('select[data-field="String"]', "3");
    await settled(page);
    expect(noteAt(await onDisk(folder), 1, 24, 3)).toMatchObject({ fret: 6, by: "hand" });
    await tap(panel("Unlock"), panel("Right as it is")); // unlocked, it may go where the machine had it: the caret goes with it
    expect((await onDisk(folder)).notes.filter((n) => n.by === "hand")).toMatchObject([
      { bar: 1, tick: 24, midi: 61 },
    ]);
    await tap(panel("Take out"));
    expect((await onDisk(folder)).notes.some((n) => n.bar === 1 && n.tick === 24)).toBe(false);
    await tap(panel("9"));
    const written = async () => (await onDisk(folder)).notes.filter((n) => n.bar === 1 && n.fret === 9);
    expect(await written()).toMatchObject([{ tick: 24, by: "hand" }]);
    await page.selectOption('select[data-field="Picks"]', "a");
    await settled(page);
    expect(await written()).toMatchObject([{ tick: 24, finger: "a" }]);
    await tap('[aria-label="a step later"]');
    expect(await written()).toMatchObject([{ tick: 36, finger: "a" }]);
    await tap("#do-undo", "#do-undo", "#do-undo");
    expect(await written()).toEqual([]);
    await tap("#do-redo");
    expect(await written()).toMatchObject([{ tick: 24 }]);
  });

  test("review touch: every row of the list that is no row of digits or fingers can be tapped", async () => {
    expect(await page.locator("#keys").isVisible()).toBe(false);
    await tap("#do-keys");
    const rows = page.locator("#keys li");
    const plain = await rows.filter({ hasNot: page.locator("button") }).allTextContents();
    expect(plain.map((words) => words.slice(0, 6))).toEqual(["0 … 24", "P I M ", "Alt 0 "]); // the panel has fields for these
    expect((await rows.count()) - plain.length).toBeGreaterThan(45);
    await tap('[data-action="unsure-on"]', '[data-action="settle"]', '[data-action="loop"]');
    await tap('[data-action="closer"]', '[data-action="first-later"]', '[data-action="keys"]');
    const after = await onDisk(folder);
    expect(after.notes.filter((n) => n.by === "hand")).toHaveLength(1);
    expect(after.grid.firstBeatSec).toBeCloseTo(folder.truth.grid.firstBeatSec + 0.01, 3);
    expect(await page.locator("#do-loop").getAttribute("aria-pressed")).toBe("true");
    expect(await page.locator("#keys").isVisible()).toBe(false);
    await tap('[data-chord="2:1"]');
    await page.fill('dialog input[name="symbol"]', "Em7/A");
    await tap('dialog button[type="submit"]');
    expect((await onDisk(folder)).chords.find((c) => c.bar === 2)?.symbol).toBe("Em7/A");
  });

  test("review touch: a swipe scrolls and moves no note; a finger that rests on a note takes it along; two fingers zoom", async () => {
    const before = await onDisk(folder);
    const from = await middle('[data-id="2:24:2"]');
    await swipe([{ from, to: { x: from.x - 300, y: from.y + 3 } }], 0);
    expect((await onDisk(folder)).notes).toEqual(before.notes);
    const scrolled = await middle('[data-id="2:24:2"]');
    expect(scrolled.x).toBeCloseTo(from.x - 300, -1);
    const line = await page.evaluate(() =>
      Number.parseFloat(getComputedStyle(document.documentElement).getPropertyValue("--line-px")),
    );
    await swipe([{ from: scrolled, to: { x: scrolled.x, y: scrolled.y + line } }], 600);
    expect(noteAt(await onDisk(folder), 2, 24, 3)?.midi).toBe(noteAt(before, 2, 24, 2)?.midi);
    const wide = (await page.locator('[data-bar="3"]').boundingBox())?.width ?? 0;
    const y = scrolled.y - 250;
    await swipe(
      [
        { from: { x: 300, y }, to: { x: 200, y } },
        { from: { x: 500, y }, to: { x: 600, y } },
      ],
      0,
    );
    const wider = (await page.locator('[data-bar="3"]').boundingBox())?.width ?? 0;
    expect(wider / wide).toBeGreaterThan(1.6);
    expect(wider / wide).toBeLessThan(2.4);
  });

  test("review touch: what is tapped is no smaller than 24 px (WCAG 2.2, 2.5.8), lines are farther apart", async () => {
    await tap('[data-id="1:24:2"]');
    const sizes = await page.evaluate(() =>
      [...document.querySelectorAll<HTMLElement>("button, select, input")]
        .filter((node) => node.getClientRects().length > 0)
        .map((node) => {
          const { width, height } = node.getBoundingClientRect();
          return { name: node.id || node.dataset.field || node.className, width, height };
        }),
    );
    expect(sizes.length).toBeGreaterThan(20);
    expect(sizes.filter((s) => (s.height < 24 || s.width < 24) && s.name !== "speed")).toEqual([]);
  });
});
