/** Practice tracks from the take itself: a stretch of bars, slower or faster, with a count-in, a click on the player's own pulse, and loops.
 * In: the take's samples, the grid's beats, what to play. Out: mono samples. Cannot: change a tempo within the track. */
import { PulgarError } from "../base/errors.js";
import { addClicks, type Click, countIn } from "./click.js";
import { type OpenStretch, stretch } from "./stretch.js";

/** @property percent of the take's tempo, 25…200 @property fromBar first bar, from 1 @property toBar last bar
 * @property loops how often the stretch of bars is played @property countInBeats clicks before each track, 0 for none
 * @property clickGain peak of the accented click, 0 for none */
export type PracticePlan = {
  percent: number;
  fromBar: number;
  toBar: number;
  loops: number;
  countInBeats: number;
  clickGain: number;
};

/** The grid's numbers that practice needs; a SheetGrid fits. */
export type PracticeGrid = { beatSec: readonly number[]; meter: { beats: number }; barCount: number };

/** A finished track. startSec: where the first bar begins in it; clicks: where they sound. */
export type PracticeTrack = { samples: Float32Array; startSec: number; clicks: Click[] };

export const PRACTICE_DEFAULTS = Object.freeze({
  percents: [50, 60, 70, 80, 90, 100] as readonly number[], // a speed-up series in steps a hand can follow
  countInBeats: 4,
  clickGain: 0.35, // under a take that peaks near 1, clear but no alarm
});

/** Fade at the cuts: short enough not to eat a pluck, long enough not to click. */
const FADE_SEC = 0.006;
/** What is kept before the first beat, for a pluck that comes early. */
const LEAD_SEC = 0.02;

/** @throws PulgarError "no-recording" without beats, "bad-usage" for bars or a percentage out of range */
export function practiceTrack(
  take: Float32Array,
  sampleRateHz: number,
  grid: PracticeGrid,
  plan: PracticePlan,
  openStretch: OpenStretch,
): PracticeTrack {
  checkPlan(grid, plan);
  const share = plan.percent / 100;
  const firstIdx = (plan.fromBar - 1) * grid.meter.beats;
  const lastIdx = plan.toBar * grid.meter.beats;
  const beats = grid.beatSec.slice(firstIdx, lastIdx + 1);
  const from = beats[0] ?? 0;
  const until = beats.at(-1) ?? from;
  const cutFrom = Math.round((from - LEAD_SEC) * sampleRateHz);
  const cutUntil = Math.round(until * sampleRateHz);
  const cut = new Float32Array(Math.max(1, cutUntil - cutFrom));
  const inside = take.subarray(Math.max(0, cutFrom), Math.max(0, Math.min(take.length, cutUntil)));
  cut.set(inside, Math.max(0, -cutFrom));
  const piece = stretch([cut], sampleRateHz, share, openStretch)[0] ?? cut;
  fadeEnds(piece, sampleRateHz);

  const beatLenSec = ((beats[1] ?? until) - from) / share;
  const passSec = (until - from) / share;
  const startSec = plan.countInBeats * beatLenSec + LEAD_SEC / share;
  const samples = new Float32Array(Math.ceil((startSec + plan.loops * passSec + 0.05) * sampleRateHz));
  const clicks: Click[] =
    plan.countInBeats > 0 ? countIn(startSec, beatLenSec, plan.countInBeats, grid.meter.beats) : [];
  for (let pass = 0; pass < plan.loops; pass++) {
    const passStartSec = startSec + pass * passSec;
    const at = Math.round((passStartSec - LEAD_SEC / share) * sampleRateHz);
    for (let idx = 0; idx < piece.length; idx++) {
      const to = at + idx;
      if (to >= 0 && to < samples.length) samples[to] = samples[to]! + piece[idx]!;
    }
    if (plan.clickGain > 0)
      for (const [idx, sec] of beats.slice(0, -1).entries())
        clicks.push({ sec: passStartSec + (sec - from) / share, accent: idx % grid.meter.beats === 0 });
  }
  addClicks(samples, sampleRateHz, clicks, plan.clickGain > 0 ? plan.clickGain : PRACTICE_DEFAULTS.clickGain);
  softenPeaks(samples);
  return { samples, startSec, clicks };
}

function checkPlan(grid: PracticeGrid, plan: PracticePlan): void {
  if (grid.beatSec.length < 2)
    throw new PulgarError(
      "no-recording",
      "the sheet has no beat times, so the take cannot be cut at its bars",
      "Draft the sheet from the take first, or make a backing track, which needs none.",
    );
  if (!(plan.percent >= 25 && plan.percent <= 200))
    throw new PulgarError(
      "bad-usage",
      `${plan.percent} % of the tempo; 25 to 200 are possible`,
      "Give percentages such as 50,60,70,80,90,100.",
    );
  if (!(plan.fromBar >= 1 && plan.toBar >= plan.fromBar && plan.toBar <= grid.barCount))
    throw new PulgarError(
      "bad-usage",
      `bars ${plan.fromBar} to ${plan.toBar}; the sheet has bars 1 to ${grid.barCount}`,
      "Give the first and the last bar of the loop.",
    );
  if (!(plan.loops >= 1 && plan.loops <= 200))
    throw new PulgarError(
      "bad-usage",
      `${plan.loops} rounds; 1 to 200 are possible`,
      "Give a whole number of rounds.",
    );
}

function fadeEnds(samples: Float32Array, sampleRateHz: number): void {
  const len = Math.min(Math.round(FADE_SEC * sampleRateHz), samples.length >> 1);
  for (let idx = 0; idx < len; idx++) {
    const gain = idx / len;
    samples[idx] = samples[idx]! * gain;
    const end = samples.length - 1 - idx;
    samples[end] = samples[end]! * gain;
  }
}

/** Scales the whole down where click and take together pass 0.97. */
function softenPeaks(samples: Float32Array): void {
  let max = 0;
  for (let idx = 0; idx < samples.length; idx++) max = Math.max(max, Math.abs(samples[idx]!));
  if (max <= 0.97) return;
  for (let idx = 0; idx < samples.length; idx++) samples[idx] = (samples[idx]! * 0.97) / max;
}
