import { spawnSync } from "node:child_process";
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";

const SOUND_FONT = "/usr/share/sounds/sf2/FluidR3_GM.sf2"; // Debian package fluid-soundfont-gm, MIT
/** General MIDI programs, counted from 0. Source: MIDI 1.0 General MIDI level 1. */
const PROGRAM = { "fluid-nylon": 24, "fluid-steel": 25 } as const;
export type FluidBank = keyof typeof PROGRAM;

const VELOCITIES = [45, 80, 115] as const;
const LOWEST = 36;
const HIGHEST = 86;
const NOTE_SEC = 4.2;
const SPACE_SEC = 4.6;

/** Are Debian's fluidsynth and FluidR3 here? */
export const hasFluid = (): boolean =>
  existsSync(SOUND_FONT) && spawnSync("fluidsynth", ["--version"], { stdio: "ignore" }).error === undefined;

/** Variable-length quantity. Source: Standard MIDI Files 1.0. */
function varLen(count: number): number[] {
  const bytes = [count & 0x7f];
  for (let rest = count >> 7; rest > 0; rest >>= 7) bytes.unshift((rest & 0x7f) | 0x80);
  return bytes;
}

/** A MIDI file that plays the notes one by one, 1000 ticks a second. */
function midiOfNotes(program: number, notes: readonly { midi: number; velocity: number }[]): Uint8Array {
  const track: number[] = [0, 0xff, 0x51, 3, 0x0f, 0x42, 0x40, 0, 0xc0, program]; // 1 000 000 µs a quarter
  notes.forEach(({ midi, velocity }, idx) => {
    const waitTicks = idx === 0 ? 500 : Math.round((SPACE_SEC - NOTE_SEC) * 1000);
    track.push(...varLen(waitTicks), 0x90, midi, velocity, ...varLen(NOTE_SEC * 1000), 0x80, midi, 0);
  });
  track.push(...varLen(500), 0xff, 0x2f, 0);
  const len = track.length;
  const head = [
    0x4d,
    0x54,
    0x68,
    0x64,
    0,
    0,
    0,
    6,
    0,
    0,
    0,
    1,
    1000 >> 8,
    1000 & 255,
    0x4d,
    0x54,
    0x72,
    0x6b,
  ];
  return Uint8Array.from([...head, len >>> 24, (len >> 16) & 255, (len >> 8) & 255, len & 255, ...track]);
}

/** Single notes of a FluidR3 guitar at 44 100 Hz, the mean of both channels, each from its note-on; effects off. */
export function renderFluidNotes(
  bank: FluidBank,
): { midi: number; velocity: number; samples: Float32Array }[] {
  const dir = mkdtempSync(join(tmpdir(), "pulgar-fluid-"));
  try {
    const notes = VELOCITIES.flatMap((velocity) =>
      Array.from({ length: HIGHEST - LOWEST + 1 }, (_, k) => ({ midi: LOWEST + k, velocity })),
    );
    writeFileSync(join(dir, "notes.mid"), midiOfNotes(PROGRAM[bank], notes));
    const args = ["-ni", "-R", "0", "-C", "0", "-g", "0.6", "-r", "44100", "-O", "s16", "-T", "raw"];
    const run = spawnSync("fluidsynth", [...args, "-F", "notes.raw", SOUND_FONT, "notes.mid"], {
      cwd: dir,
      stdio: "ignore",
    });
    if (run.status !== 0) throw new Error(`fluidsynth ended with ${run.status}`);
    const raw = readFileSync(join(dir, "notes.raw"));
    const frames = new Int16Array(raw.buffer, raw.byteOffset, raw.byteLength >> 1);
    return notes.map(({ midi, velocity }, idx) => {
      const start = Math.round((0.5 + idx * SPACE_SEC) * 44100);
      const samples = new Float32Array(Math.round(NOTE_SEC * 44100));
      for (let k = 0; k < samples.length; k++)
        samples[k] = ((frames[2 * (start + k)] ?? 0) + (frames[2 * (start + k) + 1] ?? 0)) / 65536;
      return { midi, velocity: velocity / 127, samples };
    });
  } finally {
    rmSync(dir, { recursive: true, force: true });
  }
}
