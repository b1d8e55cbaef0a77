import { spawnSync } from "node:child_process";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { COMMANDS } from "../../cli/command-table.js";
import { openTake } from "../../cli/decoder.js";
import { commandHelp } from "../../cli/help.js";
import { openStretcher } from "../../cli/stretcher.js";
import type { PulgarError } from "../../src/base/errors.js";
import { encodeWav } from "../../src/export/wav.js";
import { PRACTICE_CAUTION } from "../../src/play/caution.js";
import { addPluck } from "../../src/play/pluck.js";
import { type PracticePlan, practiceTrack } from "../../src/play/practice.js";
import { hasProgram, ROOT, testNeeding } from "../helpers/needs.js";
import { centsOff, onsetSec } from "./tone.js";

const RATE = 44100;
// A player who drags and hurries: beats 0.4 to 0.7 s apart, four bars of three.
const beatSec = [0.8];
for (let k = 1; k <= 12; k++) beatSec.push((beatSec[k - 1] ?? 0) + 0.55 + 0.15 * Math.sin(k * 2.1));
const grid = { beatSec, meter: { beats: 3 }, barCount: 4 };
const take = new Float32Array(RATE * 9);
for (const [k, sec] of beatSec.slice(0, 12).entries())
  addPluck(
    take,
    RATE,
    {
      freqHz: 220 * 2 ** ((k % 5) / 12),
      startIdx: Math.round(sec * RATE),
      holdSec: 0.35,
      loudness: 0.7,
      brightness: 0.6,
      pluckShare: 0.16,
      t60Sec: 3,
      seed: k + 1,
    },
    new Float32Array(4000),
  );

const plan: PracticePlan = { percent: 60, fromBar: 1, toBar: 4, loops: 1, countInBeats: 3, clickGain: 0 };

for (const percent of [50, 60, 80, 100])
  test(`practice: at ${percent} % the first bar starts within 10 ms of where it is said, and every beat after it`, async () => {
    const track = practiceTrack(take, RATE, grid, { ...plan, percent }, await openStretcher());
    const share = percent / 100;
    const dryLate = onsetSec(take, RATE, beatSec[0] ?? 0) - (beatSec[0] ?? 0);
    const late: number[] = [];
    for (const sec of beatSec.slice(0, 12)) {
      const want = track.startSec + (sec - (beatSec[0] ?? 0)) / share + dryLate / share;
      late.push((onsetSec(track.samples, RATE, want) - want) * 1000);
    }
    for (const ms of late) expect(Math.abs(ms), late.map((x) => x.toFixed(1)).join(" ")).toBeLessThan(10);
  });

test("practice: clicks stand on the player's own beats, the first of each bar accented, and the count-in leads to the first", async () => {
  const track = practiceTrack(
    take,
    RATE,
    grid,
    { ...plan, percent: 50, clickGain: 0.4 },
    await openStretcher(),
  );
  expect(track.clicks.map((c) => c.accent)).toEqual([
    true,
    false,
    false,
    ...Array.from({ length: 12 }, (_, k) => k % 3 === 0),
  ]);
  const onBeats = track.clicks.slice(3);
  for (const [k, click] of onBeats.entries())
    expect(click.sec).toBeCloseTo(track.startSec + ((beatSec[k] ?? 0) - (beatSec[0] ?? 0)) * 2, 6);
  const firstBeatSec = ((beatSec[1] ?? 0) - (beatSec[0] ?? 0)) * 2;
  expect(track.startSec - (track.clicks[2]?.sec ?? 0)).toBeCloseTo(firstBeatSec, 6);
  expect(track.samples.reduce((m, x) => Math.max(m, Math.abs(x)), 0)).toBeLessThanOrEqual(0.9701);
});

test("practice: a loop of one bar comes round without a gap", async () => {
  const track = practiceTrack(
    take,
    RATE,
    grid,
    { ...plan, percent: 100, fromBar: 2, toBar: 2, loops: 4, countInBeats: 0 },
    await openStretcher(),
  );
  const barSec = (beatSec[6] ?? 0) - (beatSec[3] ?? 0);
  for (let round = 0; round < 4; round++) {
    const want = track.startSec + round * barSec;
    expect(Math.abs(onsetSec(track.samples, RATE, want) - want) * 1000).toBeLessThan(10);
  }
  expect(track.samples.length / RATE).toBeCloseTo(track.startSec + 4 * barSec + 0.05, 2);
});

for (const [over, code] of [
  [{ percent: 10 }, "bad-usage"],
  [{ fromBar: 3, toBar: 2 }, "bad-usage"],
  [{ toBar: 9 }, "bad-usage"],
  [{ loops: 0 }, "bad-usage"],
] as const)
  test(`practice: ${JSON.stringify(over)} is refused as ${code}`, async () => {
    const open = await openStretcher();
    expect(() => practiceTrack(take, RATE, grid, { ...plan, ...over }, open)).toThrowError(
      expect.objectContaining({ code }) as PulgarError,
    );
  });

test("practice: a sheet without beat times is sent to the recording or the backing track", async () => {
  const open = await openStretcher();
  expect(() => practiceTrack(take, RATE, { ...grid, beatSec: [] }, plan, open)).toThrowError(
    expect.objectContaining({ code: "no-recording" }) as PulgarError,
  );
});

test("caution: loudness and rest are spoken of, a clinician is named, and it stands in the printed help, short and long", () => {
  expect(PRACTICE_CAUTION.join(" ")).toMatch(/volume[\s\S]*Rest[\s\S]*clinician/);
  const row = COMMANDS.find((c) => c.name === "practice");
  if (!row) throw new Error("no practice command");
  for (const isLong of [false, true])
    for (const line of PRACTICE_CAUTION) expect(commandHelp(row, isLong)).toContain(line);
});

test("practice: a loop over steady tones comes round without a click: nowhere is the curve bent more than by the tones themselves", async () => {
  const steady = Float32Array.from(
    { length: RATE * 9 },
    (_, k) =>
      0.3 * Math.sin((2 * Math.PI * 117.3 * k) / RATE) + 0.2 * Math.sin((2 * Math.PI * 261.1 * k) / RATE + 1),
  );
  const open = await openStretcher();
  for (const percent of [60, 100]) {
    const { samples, startSec } = practiceTrack(
      steady,
      RATE,
      grid,
      { ...plan, percent, fromBar: 2, toBar: 2, loops: 4, countInBeats: 0 },
      open,
    );
    const bend = (fromSec: number, untilSec: number): number => {
      let most = 0;
      for (let k = Math.round(fromSec * RATE); k < untilSec * RATE; k++)
        most = Math.max(
          most,
          Math.abs((samples[k - 1] ?? 0) - 2 * (samples[k] ?? 0) + (samples[k + 1] ?? 0)),
        );
      return most;
    };
    const passSec = ((beatSec[6] ?? 0) - (beatSec[3] ?? 0)) / (percent / 100);
    const own = bend(startSec + 0.2, startSec + passSec - 0.2);
    for (let round = 1; round < 4; round++) {
      const seamSec = startSec + round * passSec;
      // A hard cut bends the curve by up to the tones' whole height, a hundred times more than their own curvature.
      expect(bend(seamSec - 0.1, seamSec + 0.05) / own).toBeLessThan(2);
    }
  }
});

type Truth = {
  file: string;
  beatSec: number[];
  meter: { beats: number };
  notes: { onsetSec: number; midi: number; bar: number; beat: number }[];
};

/** A recorded sample with the truth of its beats and notes. */
async function sample(file: string) {
  const index = JSON.parse(readFileSync(join(ROOT, "samples/index.json"), "utf8")) as { samples: Truth[] };
  const truth = index.samples.find((s) => s.file === file);
  if (!truth) throw new Error(`no sample ${file}`);
  const { take: recorded } = await openTake(join(ROOT, "samples", file));
  const barCount = Math.floor((truth.beatSec.length - 1) / truth.meter.beats);
  return { recorded, truth, sampleGrid: { beatSec: truth.beatSec, meter: truth.meter, barCount } };
}
const median = (list: readonly number[]): number =>
  [...list].sort((a, b) => a - b)[list.length >> 1] ?? Number.NaN;

for (const percent of [50, 60, 75, 90])
  test(`practice: the recorded samples at ${percent} % keep their pitch within 3 cents and begin within 10 ms of where they are said to, as their bars do in the median`, async () => {
    for (const file of ["mixolydian-over-a.wav", "low-tide.mp4"]) {
      const { recorded, truth, sampleGrid } = await sample(file);
      const rate = recorded.sampleRateHz;
      const whole = { ...plan, percent, toBar: sampleGrid.barCount };
      const track = practiceTrack(recorded.samples, rate, sampleGrid, whole, await openStretcher());
      const share = percent / 100;
      const from = sampleGrid.beatSec[0] ?? 0;
      const mapped = (sec: number): number => track.startSec + (sec - from) / share;
      const lateMs = (sec: number): number => {
        const wantSec = mapped(onsetSec(recorded.samples, rate, sec));
        return (onsetSec(track.samples, rate, wantSec) - wantSec) * 1000;
      };
      const bars = truth.notes.filter((n) => n.beat === 1).map((n) => lateMs(n.onsetSec));
      expect(Math.abs(bars[0] ?? 99), file).toBeLessThan(10);
      expect(Math.abs(median(bars)), file).toBeLessThan(10);
      // Each note between its own pluck and the next, in the take and in the track. One note among ringing others is read to about 10 cents
      // in the take itself; over all notes these errors even out.
      const cents = truth.notes.flatMap(({ onsetSec: sec, midi }) => {
        const next = Math.min(...truth.notes.map((n) => n.onsetSec).filter((other) => other > sec + 0.05));
        const [lowSec, highSec] = [sec + 0.05, next - 0.015];
        if (!(highSec - lowSec > 0.15) || !Number.isFinite(next)) return [];
        const freqHz = 440 * 2 ** ((midi - 69) / 12);
        const dry = centsOff(recorded.samples, rate, freqHz, lowSec, highSec);
        return [centsOff(track.samples, rate, freqHz, mapped(lowSec), mapped(highSec)) - dry];
      });
      expect(cents.length).toBeGreaterThan(40);
      expect(Math.abs(median(cents)), file).toBeLessThan(3);
    }
  });

testNeeding(
  hasProgram("ffmpeg", ["-version"]),
  "ffmpeg",
  "practice: slow versions of a loud take and of a quiet one are at -16 LUFS with a true peak under -1 dB by ffmpeg's ebur128, click or none",
  async () => {
    const { recorded, sampleGrid } = await sample("mixolydian-over-a.wav");
    const open = await openStretcher();
    for (const gain of [1, 0.05])
      for (const clickGain of [0, 0.35]) {
        const samples = recorded.samples.map((x) => x * gain);
        const wanted = { ...plan, percent: 75, toBar: sampleGrid.barCount, countInBeats: 4, clickGain };
        const track = practiceTrack(samples, recorded.sampleRateHz, sampleGrid, wanted, open);
        const seen = spawnSync(
          "ffmpeg",
          ["-hide_banner", "-nostats", "-f", "wav", "-i", "-", "-af", "ebur128=peak=true", "-f", "null", "-"],
          { input: encodeWav(track.samples, recorded.sampleRateHz), maxBuffer: 1 << 26 },
        );
        const summary = seen.stderr.toString().split("Summary:")[1] ?? "";
        expect(Math.abs(Number(/I:\s+(-?[\d.]+) LUFS/.exec(summary)?.[1]) + 16)).toBeLessThan(0.3);
        expect(Number(/Peak:\s+(-?[\d.]+) dBFS/.exec(summary)?.[1])).toBeLessThan(-1);
      }
  },
);
