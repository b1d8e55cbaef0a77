import { expect, test } from "vitest";
import { openStretcher } from "../../cli/stretcher.js";
import type { PulgarError } from "../../src/base/errors.js";
import { PRACTICE_CAUTION } from "../../src/play/caution.js";
import { addPluck } from "../../src/play/pluck.js";
import { type PracticePlan, practiceTrack } from "../../src/play/practice.js";
import { onsetSec } from "./tone.js";

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

test("caution: loudness and rest are spoken of, and a clinician is named", () => {
  expect(PRACTICE_CAUTION.join(" ")).toMatch(/volume[\s\S]*Rest[\s\S]*clinician/);
});
