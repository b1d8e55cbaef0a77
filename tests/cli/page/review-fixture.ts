/** A folder with a take, its sheet and a review of it, and a browser to look at it with. */
import { existsSync } from "node:fs";
import { mkdtemp, readFile, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { type Browser, chromium, type Page } from "playwright-core";
import { build } from "vite";
import { afterAll, beforeAll, describe } from "vitest";
import { openReview } from "../../../cli/commands/review.js";
import { openSound } from "../../../cli/page/sound.js";
import { secOf } from "../../../cli/page/view.js";
import { checkSheet } from "../../../src/check/compare.js";
import type { Listening } from "../../../src/notes/played-note.js";
import { sheetFromJson, sheetToJson } from "../../../src/sheet/json.js";
import type { Sheet } from "../../../src/sheet/sheet.js";
import { sheetToText } from "../../../src/sheet/text.js";
import { simulateListening } from "../../helpers/check/simulate.js";
import { type PlantedKind, plantErrors } from "../../helpers/takes/mistakes.js";
import { perform } from "../../helpers/takes/perform.js";
import { studyNamed } from "../../helpers/takes/studies.js";
import { toSheet } from "../../helpers/takes/to-sheet.js";
import { wavBytes } from "../../helpers/takes/wave.js";

const CHROMIUM = process.env.PULGAR_CHROMIUM ?? "/usr/bin/chromium";
export const hasChromium = existsSync(CHROMIUM);

/** The page as `npm run build` makes it, in a folder of its own. */
export async function builtPage(): Promise<string> {
  const outDir = await mkdtemp(join(tmpdir(), "pulgar-page-"));
  const root = join(import.meta.dirname, "../../../cli/page");
  await build({ configFile: join(root, "vite.config.ts"), logLevel: "error", build: { outDir } });
  return outDir;
}

export const openBrowser = (): Promise<Browser> =>
  chromium.launch({
    executablePath: CHROMIUM,
    args: [
      "--no-sandbox",
      "--disable-gpu",
      "--disable-background-networking",
      "--disable-component-update",
      "--no-first-run",
      "--mute-audio",
      "--autoplay-policy=no-user-gesture-required",
    ],
  });

/** What the tests of one file share: open from before the first to after the last. */
export type Stage = { browser: Browser; pageDir: string };

/** Tests in real Chromium, skipped by name where there is none. */
export function describePage(title: string, tests: (stage: Stage) => void): void {
  describe.skipIf(!hasChromium)(`${title}${hasChromium ? "" : " (skipped: needs Chromium)"}`, () => {
    const stage = {} as Stage;
    beforeAll(async () => {
      [stage.browser, stage.pageDir] = await Promise.all([openBrowser(), builtPage()]);
    });
    afterAll(async () => {
      await stage.browser.close();
      await drop(stage.pageDir);
    });
    tests(stage);
  });
}

export type Folder = {
  dir: string;
  text: string;
  json: string;
  truth: Sheet;
  sheet: Sheet;
  listening: Listening;
};

/** Plain tones at the notes' moments: the page needs a recording that plays, not one that sounds like a guitar. */
function tones(
  notes: readonly { onsetSec: number; offsetSec: number; midi: number }[],
  durationSec: number,
): Float32Array {
  const rateHz = 22050;
  const samples = new Float32Array(Math.ceil(durationSec * rateHz));
  for (const note of notes) {
    const from = Math.round(note.onsetSec * rateHz);
    const omega = (2 * Math.PI * 440 * 2 ** ((note.midi - 69) / 12)) / rateHz;
    for (let k = 0; k < rateHz && from + k < samples.length; k++)
      samples[from + k] = (samples[from + k] ?? 0) + 0.12 * Math.exp(-k / 6000) * Math.sin(omega * k);
  }
  return samples;
}

/** A study as a machine might have drafted it: right but for what is planted, every seventh note unsure. */
export async function reviewFolder(
  options: { study?: string; kinds?: readonly PlantedKind[]; seed?: number } = {},
): Promise<Folder> {
  const dir = await mkdtemp(join(tmpdir(), "pulgar-review-"));
  const study = studyNamed(options.study ?? "mixolydian-over-a");
  const performance = perform(study, { seed: 1 });
  const spoiled = plantErrors(study, { seed: options.seed ?? 1, kinds: options.kinds ?? [] }).study;
  const asDraft = (sheet: Sheet): Sheet => ({
    ...sheet,
    take: { file: "take.wav", durationSec: performance.durationSec, sampleRateHz: 22050, tuningCents: 0 },
    notes: sheet.notes.map((n, k) => ({
      ...n,
      by: "machine" as const,
      confidence: k % 7 === 3 ? 0.55 : 0.95,
    })),
    chords: sheet.chords.map((c) => ({ ...c, by: "machine" as const, confidence: 0.9 })),
  });
  const truth = asDraft(toSheet(study, performance));
  const drafted: Sheet = { ...asDraft(toSheet(spoiled)), grid: truth.grid };
  const sheet: Sheet = {
    ...drafted,
    notes: drafted.notes.map((n) => ({
      ...n,
      onsetSec: secOf(drafted, n.bar, n.tick),
      offsetSec: secOf(drafted, n.bar, n.tick + n.lengthTicks),
    })),
  };
  await writeFile(join(dir, "take.wav"), wavBytes(tones(performance.notes, performance.durationSec), 22050));
  const text = join(dir, "take.tab.txt");
  const json = join(dir, "take.sheet.json");
  await writeFile(text, sheetToText(sheet));
  await writeFile(json, JSON.stringify(sheetToJson(sheet)));
  const listening = simulateListening(performance.notes, performance.durationSec, { missed: 0 });
  return { dir, text, json, truth, sheet, listening };
}

/** Opens a folder's sheet, with ears that are simulated so that no model is needed. */
export const review = (folder: Folder, pageDir: string, port?: number): ReturnType<typeof openReview> =>
  openReview(
    { sheetPath: folder.text, ...(port === undefined ? {} : { port }) },
    {
      pageDir,
      openSound,
      ear: {
        listen: async () => folder.listening,
        check: async (sheet, listening) => checkSheet(sheet, listening),
        end: () => undefined,
      },
    },
  );

export async function openPage(browser: Browser, address: string): Promise<Page> {
  const page = await browser.newPage({ viewport: { width: 1280, height: 720 } });
  await page.goto(address);
  await page.waitForSelector("body.ready");
  return page;
}

/** Presses keys one after the other and waits until every mend is answered. */
export async function press(page: Page, ...keys: string[]): Promise<void> {
  for (const key of keys) await page.keyboard.press(key);
  await settled(page);
}

export async function settled(page: Page): Promise<void> {
  await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));
  await page.waitForFunction(() => !document.body.classList.contains("saving"));
  await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));
}

/** Brings the caret to a place by keys alone. */
export async function goTo(page: Page, bar: number, tick: number, string: number): Promise<void> {
  const caret = async (): Promise<[number, number, number]> => {
    await settled(page);
    return (await page.locator("#lane").getAttribute("data-caret"))?.split(":").map(Number) as [
      number,
      number,
      number,
    ];
  };
  let now = await caret();
  while (now[0] !== bar) {
    await page.keyboard.press(now[0] < bar ? "PageDown" : "PageUp");
    now = await caret();
  }
  if (now[1] > tick) await page.keyboard.press("PageUp");
  for (now = await caret(); now[1] !== tick; now = await caret()) {
    if (now[0] !== bar || now[1] > tick)
      throw new Error(`no stop at ${bar}:${tick} (came to ${now.join(":")})`);
    await page.keyboard.press("ArrowRight");
  }
  while (now[2] !== string) {
    await page.keyboard.press(now[2] < string ? "ArrowDown" : "ArrowUp");
    now = await caret();
  }
}

export const onDisk = async (folder: Folder): Promise<Sheet> =>
  sheetFromJson(JSON.parse(await readFile(folder.json, "utf8")));

/** The music alone: what must be right in the end. */
export const musicOf = (sheet: Sheet): string[] =>
  sheet.notes.map((n) => `${n.bar}:${n.tick} string ${n.string} fret ${n.fret}`).sort();

export const noteAt = (
  sheet: Sheet,
  bar: number,
  tick: number,
  string: number,
): Sheet["notes"][number] | undefined =>
  sheet.notes.find((n) => n.bar === bar && n.tick === tick && n.string === string);

export const drop = (...dirs: string[]): Promise<unknown> =>
  Promise.all(dirs.map((dir) => rm(dir, { recursive: true, force: true })));
