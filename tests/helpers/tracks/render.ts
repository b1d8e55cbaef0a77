import { spawnSync } from "node:child_process";
import { existsSync, mkdirSync, mkdtempSync, readFileSync, renameSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import type { Take } from "../../../src/audio/take.js";
import { seedOf } from "../takes/rng.js";
import { type Arrangement, arrange } from "./arrange.js";
import { type TrackSpec, type TrackTruth, trackSpec, trackTruth } from "./plan.js";

const SOUND_FONT = "/usr/share/sounds/sf2/FluidR3_GM.sf2"; // Debian package fluid-soundfont-gm, MIT
const TICKS_PER_BEAT = 480;
const LEAD_SEC = 0.35;
const RATE_HZ = 44100;

/** Are Debian's fluidsynth and FluidR3 here? */
export const hasTracks = (): boolean =>
  existsSync(SOUND_FONT) && spawnSync("fluidsynth", ["--version"], { stdio: "ignore" }).error === undefined;

export type RenderedTrack = { spec: TrackSpec; take: Take; truth: TrackTruth };

const varLen = (count: number): number[] => {
  const bytes = [count & 0x7f];
  for (let rest = count >> 7; rest > 0; rest >>= 7) bytes.unshift((rest & 0x7f) | 0x80);
  return bytes;
};
const u32 = (n: number): number[] => [(n >>> 24) & 255, (n >> 16) & 255, (n >> 8) & 255, n & 255];

/** One-track Standard MIDI File (format 0). Detuning by pitch bend of ±2 semitones on every channel but drums. Source: MIDI 1.0. */
function trackMidi(spec: TrackSpec, arrangement: Arrangement): Uint8Array {
  type Raw = { tick: number; order: number; bytes: number[] };
  const raw: Raw[] = [];
  const bend = Math.max(0, Math.min(16383, Math.round(8192 + (spec.detuneCents / 200) * 8192)));
  const lead = Math.round((LEAD_SEC * spec.tempoBpm * TICKS_PER_BEAT) / 60);
  for (const { channel, program } of arrangement.programs)
    raw.push(
      { tick: 0, order: 0, bytes: [0xc0 | channel, program] },
      { tick: 0, order: 1, bytes: [0xe0 | channel, bend & 127, bend >> 7] },
    );
  for (const e of arrangement.events) {
    const start = lead + Math.round(e.startBeat * TICKS_PER_BEAT);
    const end = Math.max(start + 20, lead + Math.round(e.endBeat * TICKS_PER_BEAT));
    raw.push({ tick: start, order: 3, bytes: [0x90 | e.channel, e.midi, e.velocity] });
    raw.push({ tick: end, order: 2, bytes: [0x80 | e.channel, e.midi, 0] });
  }
  raw.sort((a, b) => a.tick - b.tick || a.order - b.order || (a.bytes[1] ?? 0) - (b.bytes[1] ?? 0));
  const beatUs = Math.round(60e6 / spec.tempoBpm);
  const track: number[] = [0, 0xff, 0x51, 3, ...u32(beatUs).slice(1)];
  let tick = 0;
  for (const event of raw) {
    track.push(...varLen(event.tick - tick), ...event.bytes);
    tick = event.tick;
  }
  track.push(...varLen(TICKS_PER_BEAT), 0xff, 0x2f, 0);
  return Uint8Array.from([
    ...[0x4d, 0x54, 0x68, 0x64, 0, 0, 0, 6, 0, 0, 0, 1, TICKS_PER_BEAT >> 8, TICKS_PER_BEAT & 255],
    ...[0x4d, 0x54, 0x72, 0x6b, ...u32(track.length)],
    ...track,
  ]);
}

/** Composes and renders the track of a seed (the mean of both channels, 44 100 Hz); sound is kept in the system's temporary folder. */
export function renderTrack(seed: number): RenderedTrack {
  return renderSpec(trackSpec(seed));
}

/** Renders a plan; see renderTrack. */
function renderSpec(spec: TrackSpec): RenderedTrack {
  const arrangement = arrange(spec);
  const midi = trackMidi(spec, arrangement);
  const folder = join(tmpdir(), "pulgar-tracks");
  mkdirSync(folder, { recursive: true });
  const key = seedOf(Array.from(midi, (b) => String.fromCharCode(b)).join("")).toString(16);
  const file = join(folder, `${spec.seed}-${key}.raw`);
  if (!existsSync(file)) {
    const dir = mkdtempSync(join(folder, "make-"));
    try {
      writeFileSync(join(dir, "track.mid"), midi);
      const args = ["-ni", "-g", "0.5", "-r", String(RATE_HZ), "-O", "s16", "-T", "raw"];
      const run = spawnSync("fluidsynth", [...args, "-F", "track.raw", SOUND_FONT, "track.mid"], {
        cwd: dir,
        stdio: "ignore",
      });
      if (run.status !== 0) throw new Error(`fluidsynth ended with ${run.status}`);
      const both = readFileSync(join(dir, "track.raw"));
      const stereo = new Int16Array(both.buffer, both.byteOffset, both.byteLength >> 1);
      const mono = new Int16Array(stereo.length >> 1);
      for (let k = 0; k < mono.length; k++) mono[k] = ((stereo[2 * k] ?? 0) + (stereo[2 * k + 1] ?? 0)) / 2;
      writeFileSync(join(dir, "mono.raw"), new Uint8Array(mono.buffer));
      renameSync(join(dir, "mono.raw"), file);
    } finally {
      rmSync(dir, { recursive: true, force: true });
    }
  }
  const bytes = readFileSync(file);
  const mono = new Int16Array(bytes.buffer, bytes.byteOffset, bytes.byteLength >> 1);
  const samples = new Float32Array(mono.length);
  for (let k = 0; k < mono.length; k++) samples[k] = (mono[k] as number) / 32768;
  return {
    spec,
    take: { samples, sampleRateHz: RATE_HZ },
    truth: trackTruth(spec, arrangement.pcs, LEAD_SEC),
  };
}
