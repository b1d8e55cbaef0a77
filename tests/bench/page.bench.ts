/** The review page with a ten-minute take, in Chromium, served by the built program: how long it takes to open, and how evenly it scrolls and plays. */
import { type ChildProcess, spawn } from "node:child_process";
import { once } from "node:events";
import { mkdtemp, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import type { Page } from "playwright-core";
import { sheetToJson } from "../../src/sheet/json.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import { sheetToText } from "../../src/sheet/text.js";
import { openBrowser, press } from "../cli/page/review-fixture.js";
import { studyNamed } from "../helpers/takes/studies.js";
import { renderTake } from "../helpers/takes/take.js";
import { toSheet } from "../helpers/takes/to-sheet.js";
import { wavBytes } from "../helpers/takes/wave.js";
import type { BenchCase, Cell } from "./bench-case.js";

const ROOT = join(import.meta.dirname, "../..");
const FRAME_MS = 1000 / 60;
const LATE_MS = 1.5 * FRAME_MS; // a frame that took longer has been dropped

/** A study's take played over and over, and its sheet with the beats where they sound. */
async function longTake(
  seconds: number,
): Promise<{ sheet: Sheet; samples: Float32Array; sampleRateHz: number }> {
  const study = studyNamed("ladder-and-lamp");
  const { take, performance } = await renderTake(study, { bank: "steel", seed: 1 });
  const rounds = Math.max(1, Math.round((seconds * take.sampleRateHz) / take.samples.length));
  const samples = new Float32Array(take.samples.length * rounds);
  for (let k = 0; k < rounds; k++) samples.set(take.samples, k * take.samples.length);
  const roundSec = take.samples.length / take.sampleRateHz;
  return {
    sheet: repeatStudy(toSheet(study, performance), rounds, roundSec),
    samples,
    sampleRateHz: take.sampleRateHz,
  };
}

/** The sheet as a machine might have drafted the rounds: beats as played in each, every seventh note unsure. */
function repeatStudy(once: Sheet, rounds: number, roundSec: number): Sheet {
  const { barCount, meter, beatSec } = once.grid;
  const beats = barCount * meter.beats;
  const all = Array.from({ length: rounds }, (_, k) => k);
  return {
    ...once,
    notes: all.flatMap((k) =>
      once.notes.map((n, i) => ({
        ...n,
        bar: n.bar + k * barCount,
        onsetSec: (n.onsetSec ?? 0) + k * roundSec,
        offsetSec: (n.offsetSec ?? 0) + k * roundSec,
        by: "machine" as const,
        confidence: i % 7 === 3 ? 0.55 : 0.95,
      })),
    ),
    chords: all.flatMap((k) => once.chords.map((c) => ({ ...c, bar: c.bar + k * barCount }))),
    grid: {
      ...once.grid,
      barCount: barCount * rounds,
      beatSec: all.flatMap((k) =>
        beatSec.slice(0, k === rounds - 1 ? beats + 1 : beats).map((s) => s + k * roundSec),
      ),
    },
    groupOfBar: all.flatMap(() => once.groupOfBar),
    form: [],
    repeats: [],
  };
}

/** Milliseconds between frames while `move` is called at each of them, for `sec` seconds. */
const intervals = (page: Page, sec: number, wheelPx: number): Promise<number[]> =>
  page.evaluate(
    ([long, px]) =>
      new Promise<number[]>((done) => {
        const view = document.getElementById("view") as HTMLElement;
        const gaps: number[] = [];
        let last = 0;
        const from = performance.now();
        const frame = (now: number): void => {
          if (last > 0) gaps.push(now - last);
          last = now;
          if (px !== 0)
            view.dispatchEvent(
              new WheelEvent("wheel", { deltaX: px as number, bubbles: true, cancelable: true }),
            );
          if (now - from < (long as number) * 1000) requestAnimationFrame(frame);
          else done(gaps);
        };
        requestAnimationFrame(frame);
      }),
    [sec, wheelPx],
  );

function spread(gaps: readonly number[]): { fps: number; p95Ms: number; longestMs: number; late: number } {
  const sorted = [...gaps].sort((a, b) => a - b);
  const sumMs = gaps.reduce((sum, x) => sum + x, 0);
  return {
    fps: (1000 * gaps.length) / sumMs,
    p95Ms: sorted[Math.floor(0.95 * sorted.length)] ?? 0,
    longestMs: sorted.at(-1) ?? 0,
    late: gaps.filter((x) => x > LATE_MS).length / gaps.length,
  };
}

async function startReview(dir: string): Promise<{ child: ChildProcess; address: string }> {
  const program = join(ROOT, "dist/cli/main.js");
  const child = spawn(process.execPath, [program, "review", join(dir, "long.tab.txt")], {
    stdio: ["ignore", "pipe", "ignore"],
  });
  const [line] = (await once(child.stdout as NodeJS.ReadableStream, "data")) as [Buffer];
  return { child, address: line.toString().trim() };
}

const bench: BenchCase = {
  name: "page",
  run: async ({ quick, log }) => {
    const { sheet, samples, sampleRateHz } = await longTake(quick ? 60 : 600);
    const dir = await mkdtemp(join(tmpdir(), "pulgar-bench-"));
    const take = {
      file: "long.wav",
      durationSec: samples.length / sampleRateHz,
      sampleRateHz,
      tuningCents: 0,
    };
    await writeFile(join(dir, "long.wav"), wavBytes(samples, sampleRateHz));
    await writeFile(join(dir, "long.tab.txt"), sheetToText({ ...sheet, take }));
    await writeFile(join(dir, "long.sheet.json"), JSON.stringify(sheetToJson({ ...sheet, take })));
    const browser = await openBrowser();
    const rows: Cell[][] = [];
    const row = (what: string, value: number, unit: string, wanted?: string): void => {
      rows.push([what, value, unit, wanted]);
      log(`${what} ${value.toFixed(2)} ${unit}`);
    };
    const frames = async (what: string, page: Page, sec: number, wheelPx: number): Promise<void> => {
      const { fps, p95Ms, longestMs, late } = spread(await intervals(page, sec, wheelPx));
      row(`${what}: frames a second`, fps, "1/s", "60");
      row(`${what}: interval, 95 of 100 are shorter`, p95Ms, "ms", "16.7");
      row(`${what}: longest interval`, longestMs, "ms");
      row(`${what}: frames dropped`, late, "share");
    };
    const sec = quick ? 3 : 10;
    let child: ChildProcess | undefined;
    try {
      const started = performance.now();
      const opened = await startReview(dir);
      child = opened.child;
      row("program started, address printed", performance.now() - started, "ms");
      const page = await browser.newPage({ viewport: { width: 1280, height: 720 } });
      await page.addInitScript("globalThis.__name = (f) => f"); // what the loader of TypeScript puts around inner functions
      const asked = performance.now();
      await page.goto(opened.address);
      await page.waitForSelector("body.ready");
      row("page asked for, sheet on the screen", performance.now() - asked, "ms", "under 2000");
      await page.waitForSelector("#stage[data-pictured]");
      row("page asked for, waveform and spectrum too", performance.now() - asked, "ms");
      row("program started, all of it on the screen", performance.now() - started, "ms");
      await frames("scrolling while the program listens", page, sec / 2, 24);
      const mended = performance.now();
      await press(page, "Home", "Alt+ArrowRight");
      row("a mend while the program listens", performance.now() - mended, "ms");
      await page.waitForSelector('#stage[data-listening="done"]', { timeout: 120_000 });
      row("program started, all heard", performance.now() - started, "ms");
      await page.waitForTimeout(2000); // the check of the whole take
      const again = performance.now();
      await page.reload();
      await page.waitForSelector("body.ready");
      row("page asked for again, sheet on the screen", performance.now() - again, "ms", "under 2000");
      await page.waitForSelector("#stage[data-pictured]");
      row("page asked for again, waveform and spectrum too", performance.now() - again, "ms", "under 2000");
      await frames("scrolling", page, sec, 12);
      await frames("scrolling fast", page, sec, 90);
      await press(page, "Home", "Space");
      await page.waitForTimeout(500);
      await frames("playing", page, sec, 0);
      await press(page, "l", "l");
      await frames("playing both, one in each ear", page, sec, 0);
      await press(page, "Space");
      const late = performance.now();
      await press(page, "Alt+ArrowRight");
      row("a mend", performance.now() - late, "ms");
    } finally {
      child?.kill("SIGKILL");
      await browser.close();
      await rm(dir, { recursive: true, force: true });
    }
    return {
      title: `review page, ${take.durationSec.toFixed(0)} s of sound, ${sheet.notes.length} notes in ${sheet.grid.barCount} bars`,
      columns: ["what", "value", "unit", "wanted"],
      rows,
      notes: ["Chromium without a graphics card, served by dist/ (npm run build first)."],
    };
  },
};

export default bench;
