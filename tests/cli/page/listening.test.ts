/** What is heard: the page's own output, taken where it leaves for the loudspeakers, in real Chromium. Pitch by the largest peak of its spectrum. */
import { writeFile } from "node:fs/promises";
import { join } from "node:path";
import type { Page } from "playwright-core";
import { afterAll, beforeAll, beforeEach, expect, test } from "vitest";
import { hannWindow, makePowerFft } from "../../../src/dsp/fft.js";
import { wavBytes } from "../../helpers/takes/wave.js";
import { describePage, drop, type Folder, press, review, reviewFolder } from "./review-fixture.js";

const RATE = 22050;
const TONE_HZ = 359.5; // between F4 and F#4 (A4 = 440 Hz, ISO 16:1975), so that no plucked note of the sheet has it
const FFT_LEN = 16384;

type Heard = { rateHz: number; left: number[]; right: number[] };

/** Keeps a copy of all that goes to the loudspeakers. */
const TAP = `
  const connect = AudioNode.prototype.connect;
  window.heard = { rateHz: 0, left: [], right: [] };
  let tap;
  AudioNode.prototype.connect = function (to, ...rest) {
    if (to instanceof AudioDestinationNode) {
      if (!tap) {
        tap = this.context.createScriptProcessor(4096, 2, 2);
        window.heard.rateHz = this.context.sampleRate;
        tap.onaudioprocess = (event) => {
          window.heard.left.push(...event.inputBuffer.getChannelData(0));
          window.heard.right.push(...event.inputBuffer.getChannelData(1));
        };
        connect.call(tap, to);
      }
      connect.call(this, tap);
    }
    return connect.call(this, to, ...rest);
  };
`;

/** Power in each bin over a whole stretch of sound. */
function spectrumOf(samples: readonly number[]): Float64Array {
  const fft = makePowerFft(FFT_LEN);
  const window = hannWindow(FFT_LEN);
  const sum = new Float64Array(FFT_LEN / 2 + 1);
  const power = new Float64Array(FFT_LEN / 2 + 1);
  for (let from = 0; from + FFT_LEN <= samples.length; from += FFT_LEN / 2) {
    fft.power(
      Float64Array.from(window, (w, k) => w * (samples[from + k] ?? 0)),
      power,
    );
    for (const [k, p] of power.entries()) sum[k] = (sum[k] ?? 0) + p;
  }
  return sum;
}

function loudestHz(samples: readonly number[], rateHz: number): number {
  const spectrum = spectrumOf(samples);
  return (spectrum.indexOf(Math.max(...spectrum)) * rateHz) / FFT_LEN;
}

/** Power within 1 % of a frequency, and in all. */
function powers(samples: readonly number[], rateHz: number, freqHz: number): { near: number; all: number } {
  const spectrum = [...spectrumOf(samples)];
  const near = spectrum.filter((_, k) => Math.abs((k * rateHz) / FFT_LEN / freqHz - 1) < 0.01);
  const sum = (list: readonly number[]): number => list.reduce((s, x) => s + x, 0);
  return { near: sum(near), all: sum(spectrum) };
}

describePage("what the review page sounds like", (stage) => {
  let folder: Folder;
  let opened: Awaited<ReturnType<typeof review>>;
  let page: Page;
  beforeAll(async () => {
    folder = await reviewFolder();
    const tone = Float32Array.from(
      { length: 20 * RATE },
      (_, k) => 0.4 * Math.sin((2 * Math.PI * TONE_HZ * k) / RATE),
    );
    await writeFile(join(folder.dir, "take.wav"), wavBytes(tone, RATE));
    opened = await review(folder, stage.pageDir);
  });
  afterAll(async () => {
    await opened.close();
    await drop(folder.dir);
  });
  beforeEach(async () => {
    page = await stage.browser.newPage();
    await page.addInitScript(TAP);
    await page.goto(opened.page.address);
    await page.waitForSelector("body.ready");
    await page.waitForFunction(() => (document.querySelector("video")?.readyState ?? 0) >= 3);
  });

  /** Two seconds of what sounds from now on, once something does. */
  async function listen(): Promise<Heard> {
    await page.evaluate(() => {
      const { heard } = window as unknown as { heard: Heard };
      heard.left.length = 0;
      heard.right.length = 0;
    });
    const wanted = (): Promise<boolean> =>
      page.evaluate(() => {
        const { heard } = window as unknown as { heard: Heard };
        return heard.left.length > 2.5 * heard.rateHz;
      });
    await expect.poll(wanted, { timeout: 20_000 }).toBe(true);
    return page.evaluate(() => (window as unknown as { heard: Heard }).heard);
  }
  const mediaSec = (): Promise<number> =>
    page.evaluate(() => document.querySelector("video")?.currentTime ?? 0);

  test("review sound: the recording at full speed and at 40 % has the same pitch, and goes 0.4 times as fast", async () => {
    await press(page, "Space");
    await page.waitForTimeout(500);
    const full = await listen();
    expect(loudestHz(full.left, full.rateHz)).toBeCloseTo(TONE_HZ, -0.5); // within a bin of 2.7 Hz
    await press(page, "Space", ..."------", "Home", "Space");
    await page.waitForTimeout(700); // the stretcher has filled
    const [fromSec, fromMs] = [await mediaSec(), performance.now()];
    const slow = await listen();
    const speed = (1000 * ((await mediaSec()) - fromSec)) / (performance.now() - fromMs);
    const centsOff = 1200 * Math.log2(loudestHz(slow.left, slow.rateHz) / TONE_HZ);
    expect(Math.abs(centsOff)).toBeLessThan(15); // a bin is 13 cents here
    const { near, all } = powers(slow.left, slow.rateHz, TONE_HZ);
    expect(near / all).toBeGreaterThan(0.8); // that tone, and little else
    expect(speed).toBeGreaterThan(0.3);
    expect(speed).toBeLessThan(0.5);
    await page.close();
  });

  test("review sound: one in each ear puts the recording left alone and the sheet right alone; the sheet alone is without the recording", async () => {
    await press(page, "l", "l", "Space");
    await page.waitForTimeout(500);
    const both = await listen();
    const left = powers(both.left, both.rateHz, TONE_HZ);
    const right = powers(both.right, both.rateHz, TONE_HZ);
    expect(left.near / left.all).toBeGreaterThan(0.95);
    expect(right.all).toBeGreaterThan(left.all / 1e4); // it does sound
    expect(right.near).toBeLessThan(left.near / 1e4); // and nothing of the recording is in it
    await press(page, "Space", "l", "l", "Home", "Space"); // recording, then the sheet
    await page.waitForTimeout(500);
    const sheet = await listen();
    const pure = powers(sheet.left, sheet.rateHz, TONE_HZ);
    expect(pure.all).toBeGreaterThan(0);
    expect(pure.near / pure.all).toBeLessThan(0.02);
    // bar 1 is over A2: its partials are multiples of 110 Hz, and A major's notes lie among them
    const peak = loudestHz(sheet.left, sheet.rateHz);
    const midi = 69 + 12 * Math.log2(peak / 440);
    expect(Math.abs(midi - Math.round(midi))).toBeLessThan(0.2);
    await page.close();
  });
});
