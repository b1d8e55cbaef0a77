// Attacks of a take by its sound alone: what begins, how hard, and whether it rings on like a string.
// In: Take. Out: attacks by time. Method: three bands (below 250 Hz, to 1500 Hz, above) of 10 ms levels; an attack is a
// jump of level in some band; it rings when the level holds on after it, and does not when it falls away before
// anything else begins: clicks, taps, muted strings and spoken numbers do. Source: onset detection by band energies,
// Klapuri 1999, ICASSP. Cannot do: tell a tap that sounds together with ringing notes.
import type { Take } from "../audio/take.js";

/** @property onsetSec start of the jump @property strength 0…1 against the loudest of the take @property pitched rings on like a string */
export type Attack = { onsetSec: number; strength: number; pitched: boolean };

export const ATTACK_DEFAULTS = Object.freeze({
  hopSec: 0.01,
  jumpDb: 9, // a jump of a band over three hops
  floorDb: -46, // against the loudest: room and hiss
  againSec: 0.09, // two jumps nearer than this are one attack
  fallDb: 11, // a sound that does not ring has fallen by this
  fallWithinSec: 0.42, // within this (a word lasts 0.26 s, a room of 0.6 s adds some)
  lowHz: 250,
  highHz: 1500,
});

/** Finds attacks.
 * @returns by time; [] for silence */
export function findAttacks(take: Take): Attack[] {
  const { hopSec, floorDb, jumpDb, againSec } = ATTACK_DEFAULTS;
  const bands = bandLevels(take, hopSec);
  const frames = bands.all.length;
  let loudest = -200;
  for (const level of bands.all) loudest = Math.max(loudest, level);
  if (loudest < -100) return [];
  const floor = loudest + floorDb;
  const found: { frame: number; jump: number; peakDb: number }[] = [];
  const at = (list: Float32Array, k: number): number => list[Math.max(0, Math.min(frames - 1, k))] as number;
  for (let k = 1; k < frames - 1; k++) {
    let jump = 0;
    for (const band of [bands.low, bands.mid, bands.high, bands.all]) {
      if (at(band, k + 1) < floor) continue;
      jump = Math.max(
        jump,
        at(band, k + 1) - Math.max(floor - 4, Math.min(at(band, k - 1), at(band, k - 2))),
      );
    }
    if (jump < jumpDb) continue;
    const last = found.at(-1);
    const peakDb = Math.max(
      at(bands.all, k),
      at(bands.all, k + 1),
      at(bands.all, k + 2),
      at(bands.all, k + 3),
    );
    if (last !== undefined && (k - last.frame) * hopSec < againSec) {
      last.peakDb = Math.max(last.peakDb, peakDb);
      continue;
    }
    found.push({ frame: k, jump, peakDb });
  }
  return found.map(({ frame, peakDb }, idx) => {
    const next = found[idx + 1]?.frame ?? frames;
    const until = Math.min(next - 1, frame + Math.round(ATTACK_DEFAULTS.fallWithinSec / hopSec));
    let lowest = 0;
    for (let k = frame + 2; k <= until; k++) lowest = Math.min(lowest, at(bands.all, k) - peakDb);
    return {
      onsetSec: frame * hopSec,
      strength: Math.min(1, 10 ** ((peakDb - loudest) / 20)),
      pitched: lowest > -ATTACK_DEFAULTS.fallDb,
    };
  });
}

type Bands = { low: Float32Array; mid: Float32Array; high: Float32Array; all: Float32Array };

/** Levels in dB, one a hop, of three bands and of all but rumble. */
function bandLevels(take: Take, hopSec: number): Bands {
  const { samples, sampleRateHz } = take;
  const hopLen = Math.max(1, Math.round(hopSec * sampleRateHz));
  const frames = Math.floor(samples.length / hopLen);
  const make = (): Float32Array => new Float32Array(frames);
  const out: Bands = { low: make(), mid: make(), high: make(), all: make() };
  const keepOf = (hz: number): number => Math.exp((-2 * Math.PI * hz) / sampleRateHz);
  const rumbleKeep = keepOf(50);
  const lowKeep = keepOf(ATTACK_DEFAULTS.lowHz);
  const highKeep = keepOf(ATTACK_DEFAULTS.highHz);
  let rumble = 0;
  let low = 0;
  let mid = 0;
  const db = (sum: number): number => 10 * Math.log10(sum / hopLen + 1e-12);
  for (let f = 0; f < frames; f++) {
    let sumLow = 0;
    let sumMid = 0;
    let sumHigh = 0;
    for (let k = f * hopLen; k < (f + 1) * hopLen; k++) {
      const x = samples[k] as number;
      rumble = rumbleKeep * rumble + (1 - rumbleKeep) * x;
      const y = x - rumble;
      low = lowKeep * low + (1 - lowKeep) * y;
      mid = highKeep * mid + (1 - highKeep) * y;
      const middle = mid - low;
      const high = y - mid;
      sumLow += low * low;
      sumMid += middle * middle;
      sumHigh += high * high;
    }
    out.low[f] = db(sumLow);
    out.mid[f] = db(sumMid);
    out.high[f] = db(sumHigh);
    out.all[f] = db(sumLow + sumMid + sumHigh);
  }
  return out;
}
