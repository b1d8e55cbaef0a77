/** What in the recording itself will make the draft less sure: clipping, a low level, noise.
 *
 * In: a checked Take. Out: findings, none when the recording is good. Method: peaks counted at full scale; level and noise
 * from frames spread over the take (meyda's rms and spectral flatness). Cannot: hear a room, or a bad guitar. */
import meydaModule from "meyda";
import type { Finding } from "../base/finding.js";
import { median } from "../base/numbers.js";
import { makeClipCounter } from "./clipping.js";
import type { Take } from "./take.js";

// meyda's main file is CommonJS: by Node's rules its default export is the module record, by a bundler's the object itself
const Meyda = ("default" in meydaModule ? meydaModule.default : meydaModule) as typeof meydaModule.default;

const QUALITY_DEFAULTS = {
  frameLen: 2048, // meyda wants a power of two; 46 ms at 44.1 kHz
  frameCount: 240, // spread over the take: enough for a percentile, a few ms of work
  clippedShare: 1e-5,
  quietRms: 0.003, // −50 dBFS in the louder half of the take
  noisyRatioDb: 20, // quiet frames less than this under the loud ones, and flat: noise fills the gaps
  noisyFlatness: 0.3, // 1 is white noise; a ringing guitar lies under 0.1
} as const;

export function qualityFindings(take: Take): Finding[] {
  const findings: Finding[] = [];
  const share = take.recorded?.clippedShare ?? clippedShare(take.samples);
  if (share > QUALITY_DEFAULTS.clippedShare)
    findings.push({
      rule: "clipped",
      level: "warning",
      bar: 0,
      message: `The recording is clipped in places (${(share * 100).toFixed(3)} % of the samples).`,
      hint: "Lower the input level and record again if notes are missing from the draft.",
    });
  const { loudRms, quietRms, quietFlatness } = frameLevels(take);
  if (loudRms < QUALITY_DEFAULTS.quietRms)
    findings.push({
      rule: "quiet",
      level: "warning",
      bar: 0,
      message: `The recording is very quiet (${toDb(loudRms).toFixed(0)} dBFS where it is loud).`,
      hint: "Move the microphone closer or raise the input level.",
    });
  const gapDb = toDb(loudRms) - toDb(quietRms);
  if (gapDb < QUALITY_DEFAULTS.noisyRatioDb && quietFlatness > QUALITY_DEFAULTS.noisyFlatness)
    findings.push({
      rule: "noisy",
      level: "warning",
      bar: 0,
      message: `Noise fills the gaps (only ${gapDb.toFixed(0)} dB under the music).`,
      hint: "Soft inner notes may be missed: look at the marked ones first.",
    });
  return findings;
}

function clippedShare(samples: Float32Array): number {
  const counter = makeClipCounter();
  counter.add(samples);
  return counter.share();
}

const toDb = (level: number): number => 20 * Math.log10(Math.max(level, 1e-9));

function frameLevels(take: Take): { loudRms: number; quietRms: number; quietFlatness: number } {
  const { frameLen, frameCount } = QUALITY_DEFAULTS;
  const lastStart = take.samples.length - frameLen;
  const frames: { rms: number; flatness: number }[] = [];
  Meyda.bufferSize = frameLen;
  Meyda.sampleRate = take.sampleRateHz;
  for (let k = 0; k < frameCount && lastStart > 0; k++) {
    const startIdx = Math.floor((lastStart * k) / Math.max(1, frameCount - 1));
    const got = Meyda.extract(
      ["rms", "spectralFlatness"],
      take.samples.subarray(startIdx, startIdx + frameLen),
    );
    const rms = got?.rms ?? 0;
    const flatness = got?.spectralFlatness ?? 0;
    if (rms > 1e-6) frames.push({ rms, flatness: Number.isFinite(flatness) ? flatness : 0 });
  }
  if (frames.length === 0) return { loudRms: 0, quietRms: 0, quietFlatness: 0 };
  frames.sort((a, b) => a.rms - b.rms);
  const quiet = frames.slice(0, Math.max(1, Math.floor(frames.length / 10)));
  const loud = frames.slice(Math.floor(frames.length / 2));
  return {
    loudRms: median(loud.map((f) => f.rms)) ?? 0,
    quietRms: median(quiet.map((f) => f.rms)) ?? 0,
    quietFlatness: median(quiet.map((f) => f.flatness)) ?? 0,
  };
}
