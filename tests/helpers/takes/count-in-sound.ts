import type { CountInSound } from "./perform.js";
import { makeRng } from "./rng.js";

/** Formants of five vowels in Hz, for a counting voice. Source: Peterson & Barney 1952, men, rounded. */
const VOWELS = [
  [640, 1190, 2390], // one
  [300, 870, 2240], // two
  [270, 2290, 3010], // three
  [570, 840, 2410], // four
  [730, 1090, 2440], // five
  [390, 1990, 2550], // six
] as const;

function click(out: Float32Array, at: number, rate: number, accent: boolean): void {
  const hz = accent ? 1900 : 1400;
  for (let k = 0; k < 0.06 * rate && at + k < out.length; k++)
    out[at + k] =
      (out[at + k] as number) +
      0.35 * Math.sin((2 * Math.PI * hz * k) / rate) * Math.exp(-k / (0.011 * rate));
}

function tap(out: Float32Array, at: number, rate: number, seed: string): void {
  const rng = makeRng(seed);
  let low = 0;
  for (let k = 0; k < 0.18 * rate && at + k < out.length; k++) {
    low += 0.12 * (rng.next() * 2 - 1 - low);
    const body = Math.sin((2 * Math.PI * 108 * k) / rate) * Math.exp(-k / (0.035 * rate));
    const top = Math.sin((2 * Math.PI * 205 * k) / rate) * Math.exp(-k / (0.02 * rate));
    const knock = low * Math.exp(-k / (0.008 * rate)) * 4;
    out[at + k] =
      (out[at + k] as number) + 0.28 * (body + 0.6 * top + knock) * Math.min(1, k / (0.001 * rate));
  }
}

function muted(out: Float32Array, at: number, rate: number, seed: string): void {
  const rng = makeRng(seed);
  let low = 0;
  let high = 0;
  for (let k = 0; k < 0.12 * rate && at + k < out.length; k++) {
    low += 0.35 * (rng.next() * 2 - 1 - low);
    high += 0.04 * (low - high);
    const thud = Math.sin((2 * Math.PI * 150 * k) / rate) * Math.exp(-k / (0.018 * rate));
    out[at + k] = (out[at + k] as number) + 0.5 * ((low - high) * Math.exp(-k / (0.014 * rate)) + 0.4 * thud);
  }
}

/** A spoken number: pulses with a falling voice pitch through three resonators. */
function voice(out: Float32Array, at: number, rate: number, number: number, seed: string): void {
  const rng = makeRng(seed);
  const formants = VOWELS[(number - 1) % VOWELS.length] as readonly number[];
  const state = formants.map(() => [0, 0] as [number, number]);
  let phase = 0;
  const lenIdx = Math.round(0.26 * rate);
  const from = at - Math.round(0.03 * rate); // the consonant leads the vowel
  for (let k = 0; k < lenIdx && from + k < out.length; k++) {
    const share = k / lenIdx;
    phase += (122 - 28 * share + 3 * Math.sin(k / 900)) / rate;
    let source = (rng.next() * 2 - 1) * (share < 0.12 ? 0.25 : 0.02);
    if (phase >= 1) {
      phase -= 1;
      source += 1;
    }
    let sum = 0;
    formants.forEach((hz, idx) => {
      const s = state[idx] as [number, number];
      const r = Math.exp((-Math.PI * (60 + 40 * idx)) / rate);
      const y = source * (1 - r) + 2 * r * Math.cos((2 * Math.PI * hz) / rate) * s[0] - r * r * s[1];
      s[1] = s[0];
      s[0] = y;
      sum += y * [1, 0.6, 0.3][idx]!;
    });
    const envelope = Math.sin(Math.PI * Math.min(1, share * 1.05)) ** 0.7;
    if (from + k >= 0) out[from + k] = (out[from + k] as number) + 4.5 * sum * envelope;
  }
}

/** Adds the count-in to a mix. */
export function addCountIn(
  out: Float32Array,
  sampleRateHz: number,
  sounds: readonly CountInSound[],
  seed: number | string,
): void {
  for (const { kind, atSec, number } of sounds) {
    const at = Math.round(atSec * sampleRateHz);
    const own = `count ${seed} ${number}`;
    if (kind === "clicks") click(out, at, sampleRateHz, number === 1);
    else if (kind === "taps") tap(out, at, sampleRateHz, own);
    else if (kind === "muted") muted(out, at, sampleRateHz, own);
    else voice(out, at, sampleRateHz, number, own);
  }
}
