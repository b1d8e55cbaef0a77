// Hearing a take in stretches against hearing it whole. Reference: a network made by hand whose answer depends on all the frames it may
// look at, so that a frame cut wrongly, or made of too little sound, would show.
import { expect, test } from "vitest";
import { FRAME_LEN, frameCountOf, levelGain } from "../../src/notes/features.js";
import { cutStretch, makeEars, stretchStarts } from "../../src/notes/hear.js";
import type { NetOut } from "../../src/notes/played-note.js";
import { sine } from "../helpers/wav-bytes.js";
import { cardByHand } from "./card-by-hand.js";

const PITCHES = 3;
const CONTEXT = 8;
const card = cardByHand({
  lowestMidi: 36,
  contextFrames: CONTEXT,
  strings: { temperature: 1, claim: 0.2 },
});

/** Sums of band 60 and others over the frames within reach; silence beyond the ends, as a convolution's padding. */
async function net(features: Float32Array, frameCount: number): Promise<NetOut> {
  const sum = (frame: number, band: number): number => {
    let s = 0;
    for (let f = frame - CONTEXT; f <= frame + CONTEXT; f++)
      if (f >= 0 && f < frameCount)
        s += (features[f * FRAME_LEN + band] as number) * Math.cos(f - frame + band);
    return s;
  };
  const each = (of: (frame: number, p: number) => number): Float32Array =>
    Float32Array.from({ length: frameCount * PITCHES }, (_, k) => of(Math.floor(k / PITCHES), k % PITCHES));
  return {
    onset: each((f, p) => 20 * sum(f, 60 + 40 * p)),
    sounding: each((f, p) => 20 * sum(f, 80 + 30 * p)),
    strings: Float32Array.from({ length: frameCount * PITCHES * 6 }, (_, k) => k % 6),
  };
}

const tone = sine(330, 20, 22050, 0.5);
const samples = Float32Array.from(tone, (x, i) => x * Math.exp(-3 * ((i / 22050) % 0.7)));
const frameCount = frameCountOf(samples.length);

async function heardWithin(
  starts: readonly number[],
): Promise<{ onset: number[]; sounding: number[]; thinkable: string[] }> {
  const ears = makeEars(net, card);
  const take = { samples, frameCount, gain: levelGain(samples), tuningCents: 4 };
  const out = { onset: [] as number[], sounding: [] as number[], thinkable: [] as string[] };
  for (const [k, start] of starts.slice(0, -1).entries()) {
    const heard = await ears(cutStretch(take, start, starts[k + 1] as number, CONTEXT));
    out.onset.push(...heard.onset);
    out.sounding.push(...heard.sounding);
    const { at, attack, strings } = heard.thinkable;
    for (const [c, cellAt] of at.entries())
      out.thinkable.push(`${start * PITCHES + cellAt} ${attack[c]} ${strings.subarray(6 * c, 6 * c + 6)}`);
  }
  return out;
}

test("hear: a take heard in stretches, of one block or more, is the take heard whole, byte for byte", async () => {
  const whole = await heardWithin([0, frameCount]);
  expect(whole.onset.length).toBe(frameCount * PITCHES);
  expect(new Set(whole.onset).size).toBeGreaterThan(50);
  expect(whole.thinkable.length).toBeGreaterThan(50);
  expect(await heardWithin([0, 512, 1024, frameCount])).toEqual(whole);
  expect(await heardWithin([0, 100, 202, frameCount])).toEqual(whole);
});

for (const [frames, lengths] of [
  [1, [1]],
  [512, [512]],
  [513, [512, 1]],
  [3072, [1536, 1536]],
  [6145, [2048, 2048, 2048, 1]], // thirteen blocks are four stretches of four at most
] as const)
  test(`hear: ${frames} frames are cut in stretches of ${lengths.join(", ")} (by hand)`, () => {
    const starts = stretchStarts(frames);
    expect(starts.slice(1).map((s, k) => s - (starts[k] as number))).toEqual(lengths);
  });

test("hear: an hour is cut in stretches of at most six blocks, all at even frames", () => {
  const starts = stretchStarts(310_078); // 3600 s · 22050 Hz / 256, by hand
  const lens = starts.slice(1).map((s, k) => s - (starts[k] as number));
  expect(lens.length).toBe(101); // 606 blocks
  expect(Math.max(...lens)).toBeLessThanOrEqual(6 * 512);
  expect(starts.slice(0, -1).every((s) => s % 2 === 0)).toBe(true);
});
