/** What sounds at each semitone, frame by frame, of any music, and how far it is tuned from A4 = 440 Hz.
 * In: samples. Out: strengths of semitones after tuning, with overtones explained by the notes that bring them.
 * Method: peaks of a long Hann spectrum with parabolic interpolation (Smith 1987); tuning is the commonest deviation of the peaks from
 * equal temperament; peaks are laid on semitones and a non-negative fit of harmonic series explains them (after Mauch & Dixon 2010,
 * ISMIR, "Approximate note transcription for the improved identification of difficult chords", by multiplicative updates of Lee &
 * Seung 2001). Cannot: part instruments, or tell a note from the octave above it when both sound. */
import { hannWindow, makePowerFft } from "./fft.js";

/** @property strength shape (frames, pitches) row-major, ≥ 0, no unit; frame k is centred on k·frameSec */
export type SemitoneMap = {
  frameSec: number;
  frameCount: number;
  lowestMidi: number;
  pitchCount: number;
  strength: Float32Array;
  tuningCents: number;
};

const PARTIALS_DEFAULTS = {
  windowSec: 0.33, // the next power of two parts semitones from about 80 Hz up
  hopsPerWindow: 4,
  lowestMidi: 24, // C1, a bass guitar's E1 and a little under
  highestMidi: 100,
  noteTopMidi: 91, // notes higher than G6 are overtones in backing tracks
  tuningLowHz: 120, // bass partials are too wide to tune by
  tuningHighHz: 2000, // above, piano and steel strings are stretched
  floorRatio: 0.003, // peaks under −50 dB of the frame's loudest are noise
  compress: 0.5, // power on magnitudes: quiet inner voices count
} as const;

type Peak = { midi: number; strength: number };

/** Strengths of semitones over time. @param samples shape (n), −1…1 @param rateHz 8000 or more
 * @param onShare told the share done, 0…1 */
export function mapSemitones(
  samples: Float32Array,
  rateHz: number,
  onShare: (share: number) => void = () => undefined,
): SemitoneMap {
  const o = PARTIALS_DEFAULTS;
  const len = 2 ** Math.ceil(Math.log2(o.windowSec * rateHz));
  const hopLen = len / o.hopsPerWindow;
  const frameCount = Math.max(1, Math.floor(samples.length / hopLen) + 1);
  const fft = makePowerFft(len);
  const window = hannWindow(len);
  const frame = new Float64Array(len);
  const power = new Float64Array(len / 2 + 1);
  const peaks: Peak[][] = [];
  const turn = new Float64Array(100);
  for (let k = 0; k < frameCount; k++) {
    const from = k * hopLen - len / 2;
    for (let n = 0; n < len; n++) frame[n] = (samples[from + n] ?? 0) * window[n]!;
    fft.power(frame, power);
    peaks.push(findPeaks(power, rateHz / len, turn));
    if (k % 64 === 0) onShare(k / frameCount);
  }
  const tuningCents = commonestCents(turn);
  const pitchCount = o.highestMidi - o.lowestMidi + 1;
  const noteCount = o.noteTopMidi - o.lowestMidi + 1;
  const strength = new Float32Array(frameCount * noteCount);
  const seen = new Float64Array(pitchCount);
  const explain = makeNoteFit(pitchCount, noteCount);
  peaks.forEach((list, k) => {
    layPeaks(list, tuningCents, seen);
    explain(seen, strength.subarray(k * noteCount, (k + 1) * noteCount));
  });
  return {
    frameSec: hopLen / rateHz,
    frameCount,
    lowestMidi: o.lowestMidi,
    pitchCount: noteCount,
    strength,
    tuningCents,
  };
}

/** Peaks of a power spectrum as pitches; their deviations are added to `turn`, shape (100) cents −50…49. */
function findPeaks(power: Float64Array, binHz: number, turn: Float64Array): Peak[] {
  const o = PARTIALS_DEFAULTS;
  const lowBin = Math.max(2, Math.floor((440 * 2 ** ((o.lowestMidi - 70) / 12)) / binHz));
  const highBin = Math.min(power.length - 2, Math.ceil((440 * 2 ** ((o.highestMidi - 68) / 12)) / binHz));
  let loudest = 0;
  for (let b = lowBin; b <= highBin; b++) if (power[b]! > loudest) loudest = power[b]!;
  const peaks: Peak[] = [];
  if (loudest < 1e-6) return peaks;
  const floor = loudest * o.floorRatio * o.floorRatio;
  for (let b = lowBin; b <= highBin; b++) {
    const here = power[b]!;
    if (here < floor || here <= power[b - 1]! || here < power[b + 1]!) continue;
    const before = Math.log(power[b - 1]! + 1e-20);
    const mid = Math.log(here);
    const after = Math.log(power[b + 1]! + 1e-20);
    const bend = before - 2 * mid + after;
    const shift = bend < 0 ? (0.5 * (before - after)) / bend : 0;
    const hz = (b + shift) * binHz;
    const midi = 69 + 12 * Math.log2(hz / 440);
    // A steady tone's main lobe falls fast on both sides; noise and the skirts of drums do not.
    const farIdx = Math.min(3, b - 1);
    const skirt = Math.max(power[b - farIdx]!, power[Math.min(power.length - 1, b + farIdx)]!);
    const purity = here > 30 * skirt ? 1 : here > 8 * skirt ? 0.7 : 0.4;
    const strength = here ** (0.5 * o.compress) * purity;
    peaks.push({ midi, strength });
    if (hz > o.tuningLowHz && hz < o.tuningHighHz && purity === 1) {
      const cents = (midi - Math.round(midi)) * 100;
      const slot = (((Math.round(cents) + 50) % 100) + 100) % 100;
      turn[slot]! += strength;
    }
  }
  return peaks;
}

/** The commonest deviation in cents, −50…49.9, with a parabola over the smoothed histogram; 0 when nothing was heard. */
function commonestCents(turn: Float64Array): number {
  let re = 0;
  let im = 0;
  for (let k = 0; k < 100; k++) {
    re += turn[k]! * Math.cos((2 * Math.PI * (k - 50)) / 100);
    im += turn[k]! * Math.sin((2 * Math.PI * (k - 50)) / 100);
  }
  if (re === 0 && im === 0) return 0;
  let centre = (Math.atan2(im, re) * 100) / (2 * Math.PI);
  // Mean again near the middle only, so that stretched or bent tones do not pull.
  for (let round = 0; round < 4; round++) {
    let sum = 0;
    let weight = 0;
    for (let k = 0; k < 100; k++) {
      let off = k - 50 - centre;
      off -= 100 * Math.round(off / 100);
      if (Math.abs(off) > 12) continue;
      const w = turn[k]! * (1 - Math.abs(off) / 12);
      sum += w * off;
      weight += w;
    }
    if (weight > 0) centre += sum / weight;
  }
  centre -= 100 * Math.round(centre / 100);
  return Math.round(centre * 10) / 10;
}

/** Peaks on semitones: full weight in tune, little between two. Overwrites `seen`. */
function layPeaks(peaks: readonly Peak[], tuningCents: number, seen: Float64Array): void {
  const { lowestMidi } = PARTIALS_DEFAULTS;
  seen.fill(0);
  for (const peak of peaks) {
    const midi = peak.midi - tuningCents / 100;
    const near = Math.round(midi);
    const idx = near - lowestMidi;
    if (idx < 0 || idx >= seen.length) continue;
    const off = midi - near;
    const weight = Math.exp(-(off * off) / (2 * 0.22 * 0.22));
    if (peak.strength * weight > seen[idx]!) seen[idx] = peak.strength * weight;
  }
}

// Semitones of overtones 1…12 over the note, and their strengths: 0.85 a partial, after compression. Source: 12·log2(n), rounded.
const OVERTONES = [0, 12, 19, 24, 28, 31, 34, 36, 38, 40, 42, 43] as const;
const OVERTONE_DECAY = 0.82;
const ROUNDS = 30;
const SPARSE = 0.08; // a note must explain more than this share of its own series

/** Explains semitone strengths by notes with harmonic series. */
function makeNoteFit(pitchCount: number, noteCount: number): (seen: Float64Array, out: Float32Array) => void {
  const height = OVERTONES.map((_, h) => OVERTONE_DECAY ** h);
  const model = new Float64Array(pitchCount);
  const up = new Float64Array(noteCount);
  const weights = new Float64Array(noteCount);
  return (seen, out) => {
    let total = 0;
    for (let p = 0; p < pitchCount; p++) total += seen[p]!;
    if (total === 0) {
      out.fill(0);
      return;
    }
    for (let n = 0; n < noteCount; n++) {
      let sum = 0;
      for (let h = 0; h < OVERTONES.length && n + OVERTONES[h]! < pitchCount; h++)
        sum += height[h]! * seen[n + OVERTONES[h]!]!;
      up[n] = sum;
      weights[n] = seen[n]! > 0 ? sum / 4 : sum / 40; // a note whose own partial is missing starts low
    }
    for (let round = 0; round < ROUNDS; round++) {
      model.fill(1e-9);
      for (let n = 0; n < noteCount; n++) {
        const w = weights[n]!;
        if (w < 1e-9) continue;
        for (let h = 0; h < OVERTONES.length && n + OVERTONES[h]! < pitchCount; h++)
          model[n + OVERTONES[h]!]! += w * height[h]!;
      }
      for (let n = 0; n < noteCount; n++) {
        const w = weights[n]!;
        if (w < 1e-9) continue;
        let down = 0;
        for (let h = 0; h < OVERTONES.length && n + OVERTONES[h]! < pitchCount; h++)
          down += height[h]! * model[n + OVERTONES[h]!]!;
        weights[n] = (w * up[n]!) / (down + SPARSE * up[n]! + 1e-9);
      }
    }
    for (let n = 0; n < noteCount; n++) out[n] = weights[n]!;
  };
}
