/** From a wrong draft to the true sheet by keyboard, with a reload and a killed server in between; two tabs; an edit outside; accessibility. */
import { type ChildProcess, spawn } from "node:child_process";
import { once } from "node:events";
import { readdir, readFile, writeFile } from "node:fs/promises";
import { createRequire } from "node:module";
import { join } from "node:path";
import type { Page } from "playwright-core";
import { expect, test } from "vitest";
import { editedSheet } from "../../../cli/sheet-pair.js";
import { sheetFromText } from "../../../src/sheet/parse.js";
import type { Sheet } from "../../../src/sheet/sheet.js";
import { ROOT } from "../../helpers/needs.js";
import {
  describePage,
  drop,
  type Folder,
  goTo,
  musicOf,
  noteAt,
  onDisk,
  openPage,
  press,
  review,
  reviewFolder,
  settled,
} from "./review-fixture.js";

/** What keys would make a sheet the true one: places and what to press there. */
function keysToMend(
  sheet: Sheet,
  truth: Sheet,
): { bar: number; tick: number; string: number; keys: string[] }[] {
  const out: { bar: number; tick: number; string: number; keys: string[] }[] = [];
  for (const n of truth.notes) {
    const here = noteAt(sheet, n.bar, n.tick, n.string);
    if (here?.fret !== n.fret)
      out.push({ bar: n.bar, tick: n.tick, string: n.string, keys: String(n.fret).split("") });
  }
  for (const n of sheet.notes)
    if (!noteAt(truth, n.bar, n.tick, n.string))
      out.push({ bar: n.bar, tick: n.tick, string: n.string, keys: ["Delete"] });
  return out.sort((a, b) => a.bar - b.bar || a.tick - b.tick);
}

async function startChild(
  folder: Folder,
  pageDir: string,
  port = 0,
): Promise<{ child: ChildProcess; address: string }> {
  const child = spawn(
    process.execPath,
    ["--import", "tsx", join(import.meta.dirname, "review-child.ts"), folder.dir, pageDir, String(port)],
    { cwd: ROOT, stdio: ["ignore", "pipe", "inherit"] },
  );
  const [line] = (await once(child.stdout as NodeJS.ReadableStream, "data")) as [Buffer];
  return { child, address: line.toString().trim() };
}

describePage("mending on the review page", (stage) => {
  test("review page: ten planted mistakes mended by keyboard to the true sheet, through a reload and a killed server", async () => {
    const folder = await reviewFolder({
      study: "stray-threads",
      seed: 3,
      kinds: [
        "wrong-fret",
        "missing",
        "added",
        "wrong-fret",
        "missing",
        "added",
        "wrong-fret",
        "missing",
        "wrong-fret",
        "added",
      ],
    });
    let { child, address } = await startChild(folder, stage.pageDir);
    let page = await openPage(stage.browser, address);
    const planted = keysToMend(folder.sheet, folder.truth);
    expect(planted).toHaveLength(10);
    let mended = 0;
    // what the machine decided anew around a mend may itself want mending: the sheet on disk says what is left
    for (let left = planted; left.length > 0; left = keysToMend(await onDisk(folder), folder.truth)) {
      const next = left[0] as (typeof left)[number];
      await goTo(page, next.bar, next.tick, next.string);
      await press(page, ...next.keys);
      expect(++mended).toBeLessThan(30);
      if (mended === 3) {
        await page.reload();
        await page.waitForSelector("body.ready");
      }
      if (mended === 6) {
        const before = musicOf(await onDisk(folder));
        child.kill("SIGKILL");
        await once(child, "exit");
        await page.keyboard.press("Delete"); // a mend that cannot be saved
        await page.waitForSelector("#notices p");
        expect(await page.locator("#notices").textContent()).toMatch(/does not answer|has ended/);
        await page.close();
        expect(musicOf(await onDisk(folder))).toEqual(before);
        ({ child, address } = await startChild(folder, stage.pageDir));
        page = await openPage(stage.browser, address);
        await press(page, "u", "Shift+U"); // the steps have outlived the server
        expect(musicOf(await onDisk(folder))).toEqual(before);
      }
    }
    expect(mended).toBeLessThanOrEqual(12); // the neighbours that were right stay right
    const pair = await editedSheet({ text: folder.text, json: folder.json });
    expect(musicOf(pair as Sheet)).toEqual(musicOf(folder.truth));
    expect(musicOf(sheetFromText(await readFile(folder.text, "utf8")).sheet)).toEqual(musicOf(folder.truth));
    expect((await readdir(folder.dir)).sort()).toEqual([
      ".take.steps",
      "take.sheet.json",
      "take.tab.txt",
      "take.wav",
    ]);
    let undone = 0;
    for (; !(await page.locator("#do-undo").isDisabled()); undone++) await press(page, "u");
    expect(undone).toBe(mended); // every mend, those before the crash too
    expect(musicOf(await onDisk(folder))).toEqual(musicOf(folder.sheet));
    await page.close();
    child.kill("SIGKILL");
    await drop(folder.dir);
  }, 180_000); // some hundred keys, each waited for

  test("review page: a second tab never overwrites the first, and says so", async () => {
    const folder = await reviewFolder();
    const opened = await review(folder, stage.pageDir);
    const [one, two] = [
      await openPage(stage.browser, opened.page.address),
      await openPage(stage.browser, opened.page.address),
    ];
    await goTo(one, 1, 12, 3);
    await goTo(two, 1, 24, 2);
    await press(one, "4");
    // the other tab follows by itself
    await expect.poll(() => two.locator('[data-id="1:12:3"]').textContent()).toBe("4");
    // and a tab that could not follow is told
    await two.route("**/state", (route) => route.abort());
    await press(one, "5");
    await press(two, "7");
    await expect.poll(() => two.locator("#notices").textContent()).toContain("changed");
    const after = await onDisk(folder);
    expect(noteAt(after, 1, 12, 3)?.fret).toBe(5);
    expect(noteAt(after, 1, 24, 2)?.fret).toBe(noteAt(folder.sheet, 1, 24, 2)?.fret);
    expect(await two.locator('[data-id="1:12:3"]').textContent()).toBe("5");
    await press(two, "7"); // on what is shown now it goes through
    expect(noteAt(await onDisk(folder), 1, 24, 2)?.fret).toBe(7);
    await Promise.all([one.close(), two.close()]);
    await opened.close();
    await drop(folder.dir);
  });

  test("review page: an edit in a text editor is taken in, said, kept, and can be undone", async () => {
    const folder = await reviewFolder();
    const opened = await review(folder, stage.pageDir);
    const page = await openPage(stage.browser, opened.page.address);
    await goTo(page, 1, 12, 3);
    await press(page, "4");
    const text = await readFile(folder.text, "utf8");
    await writeFile(folder.text, text.replace(/^title: .*$/m, "title: Changed by hand"));
    await expect.poll(() => page.locator("#title").textContent(), { timeout: 8000 }).toBe("Changed by hand");
    expect(await page.locator("#notices").textContent()).toContain("changed outside");
    await press(page, "6");
    const after = await onDisk(folder);
    expect([after.title, noteAt(after, 1, 12, 3)?.fret]).toEqual(["Changed by hand", 6]);
    // an edit made at the very moment of a mend: neither is lost unsaid
    await writeFile(
      folder.text,
      (await readFile(folder.text, "utf8")).replace("Changed by hand", "Changed again"),
    );
    await press(page, "9");
    expect(await page.locator("#notices").textContent()).toMatch(/changed/);
    expect(
      (await onDisk(folder)).title === "Changed again" ||
        (await readFile(folder.text, "utf8")).includes("Changed again"),
    ).toBe(true);
    await press(page, "u");
    expect(await page.locator("#title").textContent()).toBe("Changed by hand");
    await press(page, "u", "u");
    expect(await page.locator("#title").textContent()).toBe(folder.sheet.title);
    await page.close();
    await opened.close();
    await drop(folder.dir);
  });

  test("review page: axe-core finds nothing serious, wide and on a tablet, with a form open", async () => {
    const folder = await reviewFolder();
    const opened = await review(folder, stage.pageDir);
    const page = await stage.browser.newPage({ viewport: { width: 1280, height: 720 }, bypassCSP: true });
    await page.goto(opened.page.address);
    await page.waitForSelector("body.ready");
    const axe = await readFile(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
    await page.evaluate(axe);
    await press(page, "n");
    expect(await serious(page)).toEqual([]);
    await press(page, "Alt+ArrowDown"); // with an offer shown
    expect(await serious(page)).toEqual([]);
    await press(page, "g");
    expect(await serious(page)).toEqual([]);
    await press(page, "Escape");
    await page.setViewportSize({ width: 820, height: 1180 });
    await press(page, "?");
    expect(await serious(page)).toEqual([]);
    await page.close();
    await opened.close();
    await drop(folder.dir);
  });

  test("review page: fits 1280×720 and a tablet without scrolling sideways", async () => {
    const folder = await reviewFolder();
    const opened = await review(folder, stage.pageDir);
    const page = await openPage(stage.browser, opened.page.address);
    for (const [width, height] of [
      [1280, 720],
      [1024, 768],
      [820, 1180],
    ] as const) {
      await page.setViewportSize({ width, height });
      await settled(page);
      const size = await page.evaluate(() => {
        const lane = (document.getElementById("lane") as HTMLElement).getBoundingClientRect();
        const stage = (document.getElementById("view") as HTMLElement).getBoundingClientRect();
        return {
          over: document.documentElement.scrollWidth - innerWidth,
          laneBottom: lane.bottom,
          picture: lane.top - stage.top,
        };
      });
      expect(size.over, `${width}×${height}`).toBeLessThanOrEqual(0);
      expect(size.laneBottom).toBeLessThan(height);
      expect(size.picture).toBeGreaterThan(110);
    }
    await page.close();
    await opened.close();
    await drop(folder.dir);
  });
});

async function serious(page: Page): Promise<string[]> {
  return page.evaluate(async () => {
    const { axe } = window as unknown as {
      axe: {
        run: () => Promise<{ violations: { id: string; impact: string; nodes: { html: string }[] }[] }>;
      };
    };
    const { violations } = await axe.run();
    return violations
      .filter((v) => v.impact === "serious" || v.impact === "critical")
      .map((v) => `${v.id}: ${v.nodes.map((n) => n.html.slice(0, 120)).join(" | ")}`);
  });
}
