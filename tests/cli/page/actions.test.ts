/** Every action of the page by keyboard, in real Chromium, read back from the files on disk. */

import type { Page } from "playwright-core";
import { afterEach, beforeEach, expect, test } from "vitest";
import { UNSURE_BELOW } from "../../../src/sheet/sheet.js";
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
  settled,
} from "./review-fixture.js";

describePage("review page by keyboard", (stage) => {
  let folder: Folder;
  let opened: Awaited<ReturnType<typeof review>>;
  let page: Page;
  const troubles: string[] = [];

  beforeEach(async () => {
    folder = await reviewFolder();
    opened = await review(folder, stage.pageDir);
    page = await openPage(stage.browser, opened.page.address);
    page.on("pageerror", (e) => troubles.push(e.message));
    page.on("console", (m) => {
      if (m.type() === "error") troubles.push(m.text());
    });
  });
  afterEach(async () => {
    await page.close();
    await opened.close();
    await drop(folder.dir);
    expect(troubles.splice(0)).toEqual([]);
  });

  const status = () => page.locator("#where").textContent();
  const at = async (): Promise<string> => (await page.locator("#lane").getAttribute("data-caret")) ?? "";

  test("review page: a fret typed, a note added, one taken out", async () => {
    await goTo(page, 2, 12, 3); // G, fret 0 in the draft
    await press(page, "5");
    expect(noteAt(await onDisk(folder), 2, 12, 3)).toMatchObject({ fret: 5, by: "hand", confidence: 1 });
    await press(page, "ArrowUp", "ArrowUp"); // string 1 at the same moment: nothing there
    await press(page, "1", "2"); // two digits make one fret
    expect(noteAt(await onDisk(folder), 2, 12, 1)).toMatchObject({ fret: 12, by: "hand" });
    await press(page, "Delete");
    const after = await onDisk(folder);
    expect(noteAt(after, 2, 12, 1)).toBeUndefined();
    expect(noteAt(after, 2, 12, 3)?.fret).toBe(5);
  });

  test("review page: to another string with the pitch kept, and the other place taken", async () => {
    await goTo(page, 1, 24, 2); // C#4: string 2 fret 2 = string 3 fret 6
    await press(page, "Alt+ArrowDown");
    expect(noteAt(await onDisk(folder), 1, 24, 3)).toMatchObject({ fret: 6, midi: 61, by: "hand" });
    expect(await at()).toBe("1:24:3");
    await press(page, "o"); // where it came from is its first other place
    expect(noteAt(await onDisk(folder), 1, 24, 2)).toMatchObject({ fret: 2, midi: 61 });
  });

  test("review page: fingers of both hands", async () => {
    await goTo(page, 1, 12, 3);
    await press(page, "a");
    expect(noteAt(await onDisk(folder), 1, 12, 3)?.finger).toBe("a");
    await press(page, "Alt+3");
    expect(noteAt(await onDisk(folder), 1, 12, 3)?.leftFinger).toBe(3);
  });

  test("review page: a note moved in time, made longer and shorter", async () => {
    await goTo(page, 1, 36, 1);
    await press(page, "Alt+ArrowRight");
    expect(noteAt(await onDisk(folder), 1, 48, 1)).toMatchObject({ by: "hand" });
    await press(page, "Alt+ArrowLeft");
    const back = noteAt(await onDisk(folder), 1, 36, 1);
    expect(back).toBeDefined();
    await press(page, "[");
    expect(noteAt(await onDisk(folder), 1, 36, 1)?.lengthTicks).toBe((back?.lengthTicks ?? 0) - 12);
    await press(page, "]");
    expect(noteAt(await onDisk(folder), 1, 36, 1)?.lengthTicks).toBe(back?.lengthTicks);
  });

  test("review page: the next unsure note by one key, settled, unlocked", async () => {
    const unsure = (await onDisk(folder)).notes.filter((n) => n.confidence < UNSURE_BELOW).length;
    await press(page, "n");
    const first = await at();
    expect(await page.locator("#note-box .say").textContent()).toContain("unsure");
    await press(page, "Enter", "n");
    expect(await at()).not.toBe(first);
    expect((await onDisk(folder)).notes.filter((n) => n.confidence < UNSURE_BELOW)).toHaveLength(unsure - 1);
    await press(page, "Shift+N", "Shift+N");
    await press(page, "Shift+Enter");
    const bar = Number((await at()).split(":")[0]);
    expect((await onDisk(folder)).notes.filter((n) => n.bar === bar).every((n) => n.by === "hand")).toBe(
      true,
    );
    await press(page, "Shift+R");
    expect((await onDisk(folder)).notes.filter((n) => n.bar === bar && n.by === "machine")).toHaveLength(1);
  });

  test("review page: a chord renamed, the title, the mode", async () => {
    await goTo(page, 2, 0, 5);
    await press(page, "c");
    await page.keyboard.type("Em7/A");
    await press(page, "Enter");
    expect((await onDisk(folder)).chords.find((c) => c.bar === 2)).toMatchObject({
      symbol: "Em7/A",
      bass: "A",
      by: "hand",
    });
    await press(page, "t");
    await page.keyboard.type("Evening study");
    await press(page, "Enter");
    expect((await onDisk(folder)).title).toBe("Evening study");
    await press(page, "Shift+M");
    await page.keyboard.type("D");
    await press(page, "Enter");
    expect((await onDisk(folder)).mode?.tonic).toBe("D");
  });

  test("review page: the grid moved, and the notes placed anew", async () => {
    const before = await onDisk(folder);
    await press(page, ".");
    expect((await onDisk(folder)).grid.firstBeatSec).toBeCloseTo(before.grid.firstBeatSec + 0.01, 3);
    await press(page, ",");
    await press(page, "g");
    await page.keyboard.press("Tab");
    await page.keyboard.type("3"); // three beats in a bar
    await press(page, "Enter");
    const after = await onDisk(folder);
    expect(after.grid.meter).toEqual({ beats: 3, unit: 4 });
    expect(after.grid.barCount).toBeGreaterThan(before.grid.barCount);
    expect(after.notes.some((n) => n.bar > before.grid.barCount)).toBe(true);
    await press(page, "u");
    expect((await onDisk(folder)).grid.meter).toEqual({ beats: 4, unit: 4 });
  });

  /** Fills a field of the grid's form by keyboard: the one that many tabs away. */
  async function setInGrid(tabs: number, typed: string): Promise<void> {
    await press(page, "g");
    for (let k = 0; k < tabs; k++) await page.keyboard.press("Tab");
    await page.keyboard.type(typed);
    await press(page, "Enter");
  }

  test("review page: twice the tempo writes every note at twice its beat, and what is known of the bars is found anew", async () => {
    const before = await onDisk(folder);
    await setInGrid(0, "192"); // 96 before: a beat of the old grid is two of the new
    const after = await onDisk(folder);
    expect(after.grid).toMatchObject({ tempoBpm: 192, barCount: 2 * before.grid.barCount });
    const beats = (s: typeof before) =>
      s.notes.map((n) => (n.bar - 1) * 96 + n.tick).toSorted((a, b) => a - b);
    expect(beats(after)).toEqual(beats(before).map((t) => 2 * t));
    expect(after.groupOfBar).toHaveLength(after.grid.barCount);
    expect(after.form.length).toBeGreaterThan(0);
    const shown = await page.locator("[data-id]").evaluateAll((nodes) => nodes.map((n) => n.dataset.id));
    expect(shown).toContain("1:24:3"); // where the first treble of beat 1½ now stands: on beat 2
  });

  test("review page: a first beat a beat later makes the first beat a pick-up; ten milliseconds change no bar", async () => {
    const before = await onDisk(folder);
    await press(page, ".");
    const nudged = await onDisk(folder);
    expect([nudged.form, nudged.groupOfBar, nudged.repeats]).toEqual([
      before.form,
      before.groupOfBar,
      before.repeats,
    ]);
    expect(nudged.notes).toEqual(before.notes);
    await goTo(page, 1, 24, 2);
    await press(page, "b"); // bar 1 begins where the sound is: on the second beat
    const after = await onDisk(folder);
    expect(after.grid.pickupBeats).toBe(1);
    expect(noteAt(after, 0, 0, 5)?.fret).toBe(0); // the first bass
    expect(noteAt(after, 1, 0, 2)?.fret).toBe(2); // the note of the second beat
    expect(await page.locator('[data-bar="0"] .note').count()).toBe(2);
  });

  test("review page: swung eighths counted straight stand on the third of the beat where they sound, counted swung on its half", async () => {
    await page.close();
    await opened.close();
    await drop(folder.dir);
    folder = await reviewFolder({ study: "corner-table" });
    opened = await review(folder, stage.pageDir);
    page = await openPage(stage.browser, opened.page.address);
    const before = await onDisk(folder);
    expect(before.grid.feel).toBe("swing");
    const offBeats = before.notes.filter((n) => n.tick % 24 === 12).length;
    expect(offBeats).toBeGreaterThan(8);
    await setInGrid(4, "st"); // the list of feels takes the first letters
    const straight = await onDisk(folder);
    expect(straight.grid.feel).toBe("straight");
    const long = (24 * before.grid.swingRatio) / (1 + before.grid.swingRatio); // by hand: 2 : 1 is 16 of 24 ticks
    const near = straight.notes.filter((n) => Math.abs((n.tick % 24) - long) <= 3).length;
    expect(near).toBeGreaterThan(0.9 * offBeats);
    expect(straight.notes.filter((n) => n.tick % 24 === 12).length).toBeLessThan(0.1 * offBeats);
    await setInGrid(4, "sw");
    const again = await onDisk(folder);
    expect(again.grid.feel).toBe("swing");
    expect(again.notes.filter((n) => n.tick % 24 === 12).length).toBeGreaterThan(0.9 * offBeats);
  });

  test("review page: the same mend for the bars that are alike", async () => {
    const groups = (await onDisk(folder)).groupOfBar;
    const others = groups.flatMap((g, k) => (g === groups[0] && k > 0 ? [k + 1] : []));
    expect(others.length).toBeGreaterThan(0);
    await goTo(page, 1, 24, 2);
    await press(page, "Alt+ArrowDown");
    expect(await page.locator(".offer").textContent()).toContain(others.join(" and "));
    await press(page, "y");
    const after = await onDisk(folder);
    for (const bar of others) expect(noteAt(after, bar, 24, 3)?.fret, `bar ${bar}`).toBe(6);
  });

  test("review page: undo and redo without limit, to the first byte", async () => {
    const first = (await onDisk(folder)).notes;
    await goTo(page, 1, 0, 5);
    for (let k = 0; k < 30; k++) await press(page, String((k * 3) % 10), "ArrowRight");
    const last = (await onDisk(folder)).notes;
    expect(last).not.toEqual(first);
    let count = 0;
    while (!(await page.locator("#do-undo").isDisabled())) {
      await press(page, count++ % 2 ? "u" : "Control+z");
    }
    expect(count).toBeGreaterThanOrEqual(25);
    expect((await onDisk(folder)).notes).toEqual(first);
    for (let k = 0; k < count; k++) await press(page, k % 2 ? "Shift+U" : "Control+Shift+Z");
    expect((await onDisk(folder)).notes).toEqual(last);
  });

  test("review page: plays, loops the bar, slows to 40 % with the pitch kept, sounds the sheet", async () => {
    await page.waitForFunction(() => (document.querySelector("video")?.readyState ?? 0) >= 2);
    const media = () =>
      page.evaluate(() => {
        const v = document.querySelector("video") as HTMLVideoElement;
        return {
          at: v.currentTime,
          isPaused: v.paused,
          rate: v.playbackRate,
          keepsPitch: v.preservesPitch,
        };
      });
    await goTo(page, 2, 0, 5);
    await press(page, "r", "Space");
    const bar = folder.truth.grid.beatSec.slice(4, 9);
    for (let k = 0; k < 14; k++) {
      await page.waitForTimeout(250);
      const { at: sec } = await media();
      expect(sec).toBeGreaterThanOrEqual((bar[0] ?? 0) - 0.05);
      expect(sec).toBeLessThanOrEqual((bar.at(-1) ?? 0) + 0.15);
    }
    await press(page, ..."------");
    await expect.poll(media).toMatchObject({ rate: 0.4, keepsPitch: true, isPaused: false });
    await press(page, "l");
    expect(await page.locator("#sound").inputValue()).toBe("sheet");
    await press(page, "l");
    expect(await page.locator("#sound").inputValue()).toBe("both");
    await press(page, "Escape", "Space");
    expect(await media()).toMatchObject({ isPaused: true });
    await press(page, "Shift+ArrowRight", "Shift+ArrowRight", "r");
    expect(await page.locator("#span").isVisible()).toBe(true);
  });

  test("review page: picture and sheet scroll together, and the cursor follows the sound", async () => {
    await page.waitForFunction(() => (document.querySelector("video")?.readyState ?? 0) >= 2);
    const starts = folder.truth.grid.beatSec.filter((_, k) => k % 4 === 0); // of the bars, as performed
    const look = () =>
      page.evaluate(() => {
        const left = (css: string): number =>
          (document.querySelector(css) as HTMLElement).getBoundingClientRect().left;
        const canvas = document.querySelector("#picture") as HTMLCanvasElement;
        const bars = [...document.querySelectorAll<HTMLElement>(".bar")].map((bar) => ({
          bar: Number(bar.dataset.bar),
          x: bar.getBoundingClientRect().left - canvas.getBoundingClientRect().left,
        }));
        const ink = canvas.getContext("2d") as CanvasRenderingContext2D;
        const row = ink.getImageData(0, 4, canvas.width, 1).data; // of the ruler, over its numbers
        return {
          bars,
          lines: Array.from({ length: canvas.width }, (_, x) => x).filter((x) => (row[4 * x] ?? 255) < 140),
          cursorX: left("#cursor") + 1 - canvas.getBoundingClientRect().left,
          lowX: left("#lane .cursor") + 1 - canvas.getBoundingClientRect().left,
          sec: (document.querySelector("video") as HTMLVideoElement).currentTime,
          width: canvas.width,
        };
      });
    await press(page, "z", "Home", "Space");
    for (let k = 0; k < 6; k++) {
      await page.waitForTimeout(700);
      const seen = await look();
      const inView = seen.bars.filter(({ x }) => x >= 0 && x < seen.width - 2);
      expect(inView.length).toBeGreaterThan(0);
      for (const { bar, x } of inView)
        expect(Math.min(...seen.lines.map((line) => Math.abs(line - x))), `bar ${bar}`).toBeLessThanOrEqual(
          2,
        );
      expect(seen.lowX).toBeCloseTo(seen.cursorX, 1);
      const [one, two] = seen.bars as [{ bar: number; x: number }, { bar: number; x: number }];
      const [secOne, secTwo] = [starts[one.bar - 1] ?? 0, starts[two.bar - 1] ?? 0];
      const perSec = (two.x - one.x) / (secTwo - secOne);
      const cursorSec = secOne + (seen.cursorX - one.x) / perSec;
      expect(Math.abs(cursorSec - seen.sec)).toBeLessThan(0.5); // frames of a busy machine; one that stands is 0.7 s off at the next look
    }
    await press(page, "Space");
  });

  test("review page: a bar that differs is found, mended, and its verdict follows", async () => {
    await goTo(page, 3, 12, 3);
    await press(page, "5"); // wrong on purpose
    const verdict = page.locator("#bar-box .verdict");
    await expect.poll(() => verdict.textContent()).toContain("differs");
    expect(await page.locator(".differences").textContent()).toContain("string 3");
    await press(page, "Home", "d");
    expect(await at()).toMatch(/^3:/);
    await press(page, "u");
    await expect.poll(() => verdict.textContent()).not.toContain("differs");
  });

  test("review page: the view by keys, the step, the list of every key", async () => {
    const gap = async () =>
      page.evaluate(
        () => (document.querySelector('[data-bar="1"]') as HTMLElement).getBoundingClientRect().width,
      );
    const wide = await gap();
    await press(page, "z");
    expect(await gap()).toBeGreaterThan(wide);
    await press(page, "Shift+Z", "s", "s");
    expect(await status()).toContain("Step");
    await press(page, "h");
    expect(await status()).toContain("Doubtful sounds shown");
    expect(await page.locator("#keys").isVisible()).toBe(true);
    expect(await page.locator("#keys kbd").count()).toBeGreaterThan(40);
    await press(page, "?");
    expect(await page.locator("#keys").isVisible()).toBe(false);
    await press(page, "End");
    expect(await at()).toMatch(new RegExp(`^${folder.truth.grid.barCount}:`));
    await settled(page);
  });

  test("review page: by mouse, a note dragged to another string and a place clicked", async () => {
    const note = page.locator('[data-id="1:24:2"]');
    const box = await note.boundingBox();
    if (!box) throw new Error("no note");
    const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
    await page.mouse.move(x, y);
    await page.mouse.down();
    await page.mouse.move(x, y + 10);
    await page.mouse.move(x, y + 22);
    await page.mouse.up();
    await settled(page);
    expect(noteAt(await onDisk(folder), 1, 24, 3)?.fret).toBe(6);
    await page.mouse.click(x, y + 3 * 22); // string 5, same moment
    await settled(page);
    expect(await at()).toBe("1:24:5");
  });
});
