/** Practice tracks from the take itself: a stretch of bars, slower or faster, with a count-in, a click on the player's own pulse, and loops.
 * In: the take's samples, the grid's beats, what to play. Out: mono samples at −16 LUFS, true peak under −1 dB, so that no track of a series
 * is louder than another. A loop comes round by a short crossfade just before its first beat; after the take's last bar the strings ring out.
 * Cannot: change a tempo within the track. */
import { PulgarError } from "../base/errors.js";
import { addClicks, type Click, countIn } from "./click.js";
import { loudnessLufs, toTarget } from "./loudness.js";
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
  clickGain: 0.35, // peak beside a take of takeLufs, where plucks peak between 0.3 and 0.9: clear but no alarm
  takeLufs: -18, // the take is brought to this before the click is added, or a quiet take would drown in it
});

/** Fade at the cuts: short enough not to eat a pluck, long enough not to click. */
const FADE_SEC = 0.006;
/** What is kept before the first beat, for a pluck that comes early. A loop's end fades into it. */
const LEAD_SEC = 0.02;
/** Sound on both sides that is stretched with the rest and then dropped: a cut's edge is smeared over the engine's block. */
const MARGIN_SEC = 0.15;
/** After the last bar of the take the strings ring out for so long. */
const RING_SEC = 1.5;

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
  const ringSec = plan.toBar === grid.barCount ? RING_SEC : 0;
  const cut = cutOut(take, from - LEAD_SEC - MARGIN_SEC, until + ringSec + MARGIN_SEC, sampleRateHz);
  const whole = stretch([cut], sampleRateHz, share, openStretch)[0] ?? cut;
  const marginLen = Math.round((MARGIN_SEC / share) * sampleRateHz);
  const piece = whole.slice(marginLen, whole.length - marginLen);
  toLoudness(piece, sampleRateHz, PRACTICE_DEFAULTS.takeLufs);

  const beatLenSec = ((beats[1] ?? until) - from) / share;
  const passSec = (until - from) / share;
  const leadSec = LEAD_SEC / share;
  const startSec = plan.countInBeats * beatLenSec + leadSec;
  const endSec = startSec + plan.loops * passSec;
  const samples = new Float32Array(Math.ceil((endSec + ringSec / share + 0.05) * sampleRateHz));
  const clicks: Click[] =
    plan.countInBeats > 0 ? countIn(startSec, beatLenSec, plan.countInBeats, grid.meter.beats) : [];
  for (let pass = 0; pass < plan.loops; pass++) {
    const passStartSec = startSec + pass * passSec;
    const isLast = pass === plan.loops - 1;
    // A pass ends at the next one's first beat; over the lead before it the two change places.
    const endFadeSec = !isLast ? leadSec : ringSec > 0 ? ringSec / share : FADE_SEC;
    addPass(samples, piece, {
      at: Math.round((passStartSec - leadSec) * sampleRateHz),
      len: isLast ? piece.length : Math.round((passSec + leadSec) * sampleRateHz),
      fadeInLen: Math.round((pass === 0 ? FADE_SEC : leadSec) * sampleRateHz),
      fadeOutLen: Math.round(endFadeSec * sampleRateHz),
    });
    if (plan.clickGain > 0)
      for (const [idx, sec] of beats.slice(0, -1).entries())
        clicks.push({ sec: passStartSec + (sec - from) / share, accent: idx % grid.meter.beats === 0 });
  }
  addClicks(samples, sampleRateHz, clicks, plan.clickGain > 0 ? plan.clickGain : PRACTICE_DEFAULTS.clickGain);
  toTarget([samples], sampleRateHz);
  return { samples, startSec, clicks };
}

/** A stretch of the take; silence where it reaches past the take's ends. */
function cutOut(take: Float32Array, fromSec: number, untilSec: number, sampleRateHz: number): Float32Array {
  const fromIdx = Math.round(fromSec * sampleRateHz);
  const untilIdx = Math.round(untilSec * sampleRateHz);
  const cut = new Float32Array(Math.max(1, untilIdx - fromIdx));
  const inside = take.subarray(Math.max(0, fromIdx), Math.max(0, Math.min(take.length, untilIdx)));
  cut.set(inside, Math.max(0, -fromIdx));
  return cut;
}

/** Scales the whole to a loudness; silence stays. */
function toLoudness(samples: Float32Array, sampleRateHz: number, lufs: number): void {
  const now = loudnessLufs([samples], sampleRateHz);
  if (!Number.isFinite(now)) return;
  const gain = 10 ** ((lufs - now) / 20);
  for (let idx = 0; idx < samples.length; idx++) samples[idx] = samples[idx]! * gain;
}

type Pass = { at: number; len: number; fadeInLen: number; fadeOutLen: number };

/** A fade from 0 to 1 without a corner at either end; two that cross keep their power, since one turn of a loop does not know the
 * other's phase. */
const fade = (share: number): number =>
  Math.sin((Math.PI / 2) * Math.sin((Math.PI / 2) * Math.min(1, share)) ** 2);

/** Adds one pass with its ends faded. */
function addPass(out: Float32Array, piece: Float32Array, { at, len, fadeInLen, fadeOutLen }: Pass): void {
  const used = Math.min(len, piece.length);
  for (let idx = 0; idx < used; idx++) {
    const to = at + idx;
    if (to < 0 || to >= out.length) continue;
    const gain = fade(idx / Math.max(1, fadeInLen)) * fade((used - 1 - idx) / Math.max(1, fadeOutLen));
    out[to] = out[to]! + piece[idx]! * gain;
  }
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
