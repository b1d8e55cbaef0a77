// Timed notes and a bank in, a recording out. Every string sounds one note at a time; a note cut short fades within 15 ms.
// Strings differ gently: pluck position (a comb), darker and shorter notes high up a wound string, level. Then, as
// asked: count-in, room, noise, level. What it cannot do: sympathetic strings, squeaks, body noise.
import type { Take } from "../../../src/audio/take.js";
import type { Bank, BankNote } from "./bank.js";
import { addCountIn } from "./count-in-sound.js";
import { type Performance, ringSec, type TimedNote } from "./perform.js";
import { makeRng } from "./rng.js";
import { convolve, roomImpulse } from "./room.js";
import { resampleBy, rms } from "./wave.js";

/** @property roomT60Sec 0 = dry @property roomWetDb all reflections against the direct sound @property noiseDb signal over noise, undefined = none
 * @property tuningCents the whole guitar off A4 = 440 Hz @property peak highest sample of the result */
export type RenderOptions = {
  sampleRateHz?: number;
  seed?: number;
  roomT60Sec?: number;
  roomWetDb?: number;
  noiseDb?: number | undefined;
  tuningCents?: number;
  peak?: number;
};

/** Distance of the pluck from the bridge over the open string's length, strings 1…6: the thumb plays nearer the middle. */
const PLUCK_SHARE = [0.15, 0.16, 0.17, 0.2, 0.21, 0.22] as const;
const COMB_DEPTH = 0.22;
/** Level by string 1…6, dB. */
const STRING_DB = [-0.5, 0, 0, 0.5, 0.5, 1] as const;
const FADE_SEC = 0.015;
/** A string that nobody stops dies away; it is helped over its last stretch. */
const DYING_SEC = 0.7;
/** A dying note counts as ended 40 dB under its loudest 20 ms: the end that a listener could still name. */
const AUDIBLE_DROP = 0.01;

type Voice = { samples: Float32Array; audibleSec: number };

function nearestNote(bank: Bank, midi: number, velocity: number): BankNote {
  const cost = (n: BankNote): number => Math.abs(n.midi - midi) + Math.abs(n.velocity - velocity) * 0.9;
  return bank.notes.reduce((best, n) => (cost(n) < cost(best) ? n : best));
}

/** The sound of a fret on a string at one dynamic, at the output rate. */
function makeVoice(bank: Bank, note: TimedNote, rateHz: number, tuningCents: number, soft: boolean): Voice {
  const source = nearestNote(bank, note.midi, note.velocity);
  const ratio =
    (bank.sampleRateHz / rateHz) * 2 ** ((note.midi - source.midi + (tuningCents - source.cents) / 100) / 12);
  const outLen = Math.min(Math.floor(source.samples.length / ratio), Math.round(4.6 * rateHz));
  const samples = resampleBy(source.samples, ratio, outLen);
  const periodIdx = rateHz / (440 * 2 ** ((note.midi - 69) / 12));
  const delay = (PLUCK_SHARE[note.string - 1] as number) * 2 ** (note.fret / 12) * periodIdx;
  const wound = note.string >= 4;
  const dark = Math.min(0.6, (wound ? 0.035 : 0.015) * note.fret + (soft ? 0.2 : 0));
  const dampPerIdx = ((wound ? 0.09 : 0.05) * note.fret) / rateHz;
  const keep = Math.exp((-2 * Math.PI * 1500) / rateHz);
  const whole = Math.floor(delay);
  const part = delay - whole;
  const shaped = new Float32Array(outLen);
  let low = 0;
  for (let k = 0; k < outLen; k++) {
    const back = (samples[k - whole] ?? 0) * (1 - part) + (samples[k - whole - 1] ?? 0) * part;
    const combed = (samples[k] as number) - COMB_DEPTH * back;
    low = keep * low + (1 - keep) * combed;
    shaped[k] = ((1 - dark) * combed + dark * low) * Math.exp(-dampPerIdx * k);
  }
  const gain =
    (0.1 * 10 ** ((STRING_DB[note.string - 1] as number) / 20)) /
    Math.max(1e-6, rms(shaped, 0, Math.round(0.3 * rateHz)));
  for (let k = 0; k < outLen; k++) shaped[k] = (shaped[k] as number) * gain;
  return { samples: shaped, audibleSec: audibleLength(shaped, rateHz) };
}

function audibleLength(samples: Float32Array, rateHz: number): number {
  const hop = Math.round(0.02 * rateHz);
  const levels = Array.from({ length: Math.floor(samples.length / hop) }, (_, k) =>
    rms(samples, k * hop, (k + 1) * hop),
  );
  const floor = Math.max(...levels) * AUDIBLE_DROP;
  return ((levels.findLastIndex((l) => l >= floor) + 1) * hop) / rateHz;
}

function mixNote(mix: Float32Array, voice: Voice, note: TimedNote, rateHz: number, attackSec: number): void {
  const start = Math.round((note.onsetSec - attackSec) * rateHz);
  const dies = note.offsetSec - note.onsetSec >= ringSec(note.midi) - 0.001;
  const fadeSec = dies ? DYING_SEC : FADE_SEC;
  const fadeFrom = (note.offsetSec - note.onsetSec + attackSec - fadeSec * (dies ? 1 : 0.6)) * rateHz;
  const fadeLen = fadeSec * rateHz;
  const end = Math.min(voice.samples.length, Math.ceil(fadeFrom + fadeLen), mix.length - start);
  const gain = note.velocity ** 1.6;
  for (let k = Math.max(0, -start); k < end; k++) {
    const fade = k < fadeFrom ? 1 : 0.5 + 0.5 * Math.cos((Math.PI * (k - fadeFrom)) / fadeLen);
    mix[start + k] = (mix[start + k] as number) + (voice.samples[k] as number) * gain * fade;
  }
}

/** Coloured noise, −3 dB an octave or so, deviation 1. */
function noise(len: number, seed: number | string): Float32Array {
  const rng = makeRng(`noise ${seed}`);
  const out = new Float32Array(len);
  let slow = 0;
  for (let k = 0; k < len; k++) {
    const white = rng.next() * 2 - 1;
    slow += 0.06 * (white - slow);
    out[k] = 0.5 * white + 2 * slow;
  }
  const level = rms(out);
  for (let k = 0; k < len; k++) out[k] = (out[k] as number) / level;
  return out;
}

/** Renders a performance.
 * @returns the take, and the notes with `offsetSec` brought forward to where the sound has died away */
export function render(
  performance: Performance,
  bank: Bank,
  options: RenderOptions = {},
): { take: Take; notes: TimedNote[]; before: TimedNote[] } {
  const {
    sampleRateHz = 22050,
    seed = 1,
    roomT60Sec = 0,
    roomWetDb = -4,
    noiseDb,
    tuningCents = 0,
    peak = 0.7,
  } = options;
  const len = Math.ceil(performance.durationSec * sampleRateHz);
  let mix: Float32Array = new Float32Array(len);
  const voices = new Map<string, Voice>();
  const sounded = (note: TimedNote): TimedNote => {
    const soft = note.velocity < 0.5;
    const layer = nearestNote(bank, note.midi, note.velocity).velocity;
    const key = `${note.string} ${note.fret} ${soft} ${layer}`;
    const voice = voices.get(key) ?? makeVoice(bank, note, sampleRateHz, tuningCents, soft);
    voices.set(key, voice);
    mixNote(mix, voice, note, sampleRateHz, bank.attackSec);
    return {
      ...note,
      offsetSec: Math.min(note.offsetSec, note.onsetSec + Math.max(0.05, voice.audibleSec - bank.attackSec)),
    };
  };
  const before = performance.before.map(sounded);
  const notes = performance.notes.map(sounded);
  const musicLevel = rms(mix, Math.round((performance.beatSec[0] as number) * sampleRateHz));
  const counts = new Float32Array(len);
  addCountIn(counts, sampleRateHz, performance.countIn, seed);
  for (let k = 0; k < len; k++) mix[k] = (mix[k] as number) + (counts[k] as number) * (musicLevel / 0.1);
  if (roomT60Sec > 0) mix = convolve(mix, roomImpulse(roomT60Sec, roomWetDb, sampleRateHz, seed), len);
  if (noiseDb !== undefined) {
    const hiss = noise(len, seed);
    const level = musicLevel * 10 ** (-noiseDb / 20);
    for (let k = 0; k < len; k++) mix[k] = (mix[k] as number) + (hiss[k] as number) * level;
  }
  let highest = 0;
  for (const x of mix) highest = Math.max(highest, Math.abs(x));
  if (highest > 0) for (let k = 0; k < len; k++) mix[k] = ((mix[k] as number) * peak) / highest;
  return { take: { samples: mix, sampleRateHz }, notes, before };
}
