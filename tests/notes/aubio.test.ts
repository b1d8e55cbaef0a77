// The listener on single notes beside aubio (Brossier 2006; Debian python3-aubio): its yinfft pitch and its energy onsets.
import { spawnSync } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { expect } from "vitest";
import { openListener } from "../../cli/listener-runtime.js";
import type { Take } from "../../src/audio/take.js";
import { listen } from "../../src/notes/listen.js";
import { hasPython, testNeeding } from "../helpers/needs.js";
import { hasBank, loadBank } from "../helpers/takes/bank.js";
import { wavBytes } from "../helpers/takes/wave.js";

const GAP_SEC = 1.1;
const MIDIS = [45, 48, 50, 53, 55, 57, 60, 62, 64, 67, 69, 72];

/** Single recorded notes one after another, each faded before the next. */
async function singleNotes(): Promise<Take> {
  const bank = await loadBank("steel");
  const rate = bank.sampleRateHz;
  const samples = new Float32Array(Math.round((0.5 + GAP_SEC * MIDIS.length) * rate));
  MIDIS.forEach((midi, k) => {
    const note = bank.notes.reduce((best, n) =>
      Math.abs(n.midi - midi) < Math.abs(best.midi - midi) ? n : best,
    );
    const from = Math.round((0.5 + k * GAP_SEC - bank.attackSec) * rate);
    const len = Math.round(0.9 * rate);
    for (let i = 0; i < len; i++)
      samples[from + i] = (note.samples[i] ?? 0) * Math.min(1, (len - i) / (0.05 * rate));
  });
  return { samples, sampleRateHz: rate };
}

/** aubio's onsets in seconds, and its pitch (MIDI, yinfft, 4096 samples) 0.25 s after each time of `at`. */
function askAubio(take: Take, at: readonly number[]): { onsets: number[]; pitches: number[] } {
  const dir = mkdtempSync(join(tmpdir(), "pulgar-aubio-"));
  try {
    writeFileSync(join(dir, "x.wav"), wavBytes(take.samples, take.sampleRateHz));
    const code = `
import aubio,json
hop=128; rate=${take.sampleRateHz}
s=aubio.source("${join(dir, "x.wav")}",rate,hop); o=aubio.onset("energy",512,hop,rate); p=aubio.pitch("yinfft",4096,hop,rate); p.set_unit("midi")
onsets=[]; pitch=[]
while True:
    x,n=s()
    if o(x): onsets.append(o.get_last_s())
    pitch.append(float(p(x)[0]))
    if n<hop: break
print(json.dumps(dict(onsets=onsets,pitches=[pitch[int((t+0.25)*rate/hop)] for t in ${JSON.stringify(at)}])))`;
    const run = spawnSync("/usr/bin/python3", ["-c", code], { encoding: "utf8" });
    return JSON.parse(run.stdout) as { onsets: number[]; pitches: number[] };
  } finally {
    rmSync(dir, { recursive: true, force: true });
  }
}

testNeeding(
  hasPython("aubio") && hasBank("steel"),
  "Debian python3-aubio and the npm guitars",
  "listener: single notes have aubio's pitch, and begin where aubio hears an onset",
  async () => {
    const take = await singleNotes();
    const listener = await openListener();
    const { notes } = await listen(take, listener.run, { card: listener.card });
    await listener.close();
    expect(notes.map((n) => n.midi)).toEqual(MIDIS);
    const aubio = askAubio(
      take,
      notes.map((n) => n.onsetSec),
    );
    // 1 of 12 may go to aubio's own octave errors or a missed soft onset; the other 11 must agree.
    const pitches = notes.filter((n, k) => Math.round(aubio.pitches[k] as number) === n.midi);
    expect(pitches.length).toBeGreaterThanOrEqual(MIDIS.length - 1);
    const off = notes.map((n) => Math.min(...aubio.onsets.map((t) => Math.abs(t - n.onsetSec))));
    expect(off.filter((x) => x < 0.02).length).toBeGreaterThanOrEqual(MIDIS.length - 1);
  },
);
