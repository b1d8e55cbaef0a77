// Decoding: samples against ffmpeg's own (Debian), header fields against the RIFF layout (RFC 2361), limits by hand.
import { spawnSync } from "node:child_process";
import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { openTake } from "../../cli/decoder.js";
import { checkTake, takeFromChunks } from "../../src/audio/decode.js";
import { isIsoCut, sniffContainer } from "../../src/audio/sniff.js";
import { PulgarError } from "../../src/base/errors.js";
import { resample } from "../../src/dsp/resample.js";
import { hasProgram, ROOT, testNeeding } from "../helpers/needs.js";
import { tempFolder } from "../helpers/run-cli.js";
import { riffBytes, sine } from "../helpers/wav-bytes.js";

const folder = tempFolder();
const write = (name: string, bytes: Uint8Array | string): string => {
  const path = join(folder, name);
  writeFileSync(path, bytes);
  return path;
};
const hasFfmpeg = hasProgram("ffmpeg", ["-version"]);

for (const [bits, tolerance] of [
  [8, 1 / 100],
  [16, 1 / 32000],
  [24, 1e-6],
  [32, 1e-6],
  [-32, 1e-7],
] as const)
  test(`decode: a WAV of ${bits < 0 ? "float 32" : bits} bits gives back its samples`, async () => {
    const want = sine(440, 0.6, 22050);
    const { take } = await openTake(write(`b${bits}.wav`, riffBytes([want], 22050, bits)));
    expect(take.sampleRateHz).toBe(22050);
    expect(take.samples.length).toBe(want.length);
    const worst = Math.max(...want.map((x, i) => Math.abs(x - (take.samples[i] ?? 9))));
    expect(worst).toBeLessThan(tolerance);
  });

for (const rateHz of [8000, 11025, 44100, 96000, 192000])
  test(`decode: ${rateHz} Hz is accepted as it is`, async () => {
    const { take } = await openTake(write(`r${rateHz}.wav`, riffBytes([sine(220, 0.6, rateHz)], rateHz, 16)));
    expect(take.sampleRateHz).toBe(rateHz);
    expect(take.samples.length).toBe(Math.round(0.6 * rateHz));
  });

test("decode: eight channels are averaged, not summed", async () => {
  const level = [0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8];
  const channels = level.map((x) => new Array<number>(8000).fill(x));
  const { take, channelCount } = await openTake(write("eight.wav", riffBytes(channels, 8000, 24)));
  expect(channelCount).toBe(8);
  expect(take.samples[4000]).toBeCloseTo(0.45, 5); // mean of 0.1…0.8, by hand
});

const formats = [
  ["flac", ["-c:a", "flac"], 1e-4],
  ["mp3", ["-c:a", "libmp3lame", "-b:a", "192k"], 5e-3],
  ["m4a", ["-c:a", "aac", "-b:a", "160k"], 5e-3],
  ["ogg", ["-c:a", "libvorbis"], 5e-3],
  ["opus", ["-c:a", "libopus"], 5e-3],
  ["aiff", [], 1e-4],
  ["mkv", ["-c:a", "flac"], 1e-4],
  ["mov", ["-c:a", "aac"], 5e-3],
] as const;
for (const [ending, encode, tolerance] of formats)
  testNeeding(hasFfmpeg, "ffmpeg", `decode: ${ending} agrees with ffmpeg's samples`, async () => {
    const source = join(ROOT, "samples", "mixolydian-over-a.wav");
    const path = join(folder, `made.${ending}`);
    const made = spawnSync("ffmpeg", [
      "-v",
      "error",
      "-y",
      "-t",
      "4",
      "-i",
      source,
      "-ar",
      "48000",
      ...encode,
      path,
    ]);
    expect(made.status).toBe(0);
    const { take } = await openTake(path);
    const raw = spawnSync("ffmpeg", ["-v", "error", "-i", path, "-f", "f32le", "-ac", "1", "-"], {
      maxBuffer: 1 << 26,
    });
    const want = new Float32Array(new Uint8Array(raw.stdout).buffer);
    expect(take.sampleRateHz).toBe(48000);
    expect(Math.abs(take.samples.length - want.length)).toBeLessThan(2400); // an encoder's padding: under 50 ms
    let sum = 0;
    const len = Math.min(take.samples.length, want.length);
    for (let i = 0; i < len; i++) sum += ((take.samples[i] ?? 0) - (want[i] ?? 0)) ** 2;
    expect(Math.sqrt(sum / len)).toBeLessThan(tolerance);
  });

testNeeding(hasFfmpeg, "ffmpeg", "decode: what our decoders cannot read goes to ffmpeg", async () => {
  const source = join(ROOT, "samples", "mixolydian-over-a.wav");
  const path = join(folder, "rare.ac3");
  expect(
    spawnSync("ffmpeg", ["-v", "error", "-y", "-t", "2", "-i", source, "-ar", "48000", path]).status,
  ).toBe(0);
  const opened = await openTake(path);
  expect(opened.decodedBy).toBe("ffmpeg");
  expect(opened.take.samples.length / opened.take.sampleRateHz).toBeGreaterThan(1.9);
});

test("decode: NaN in a float file is refused with its place", async () => {
  const samples = sine(220, 1, 8000);
  samples[1234] = Number.NaN;
  const error = await openTake(write("nan.wav", riffBytes([samples], 8000, -32))).catch((e: unknown) => e);
  expect(error).toBeInstanceOf(PulgarError);
  expect((error as PulgarError).code).toBe("bad-samples");
  expect((error as PulgarError).message).toContain("1234");
});

test("decode: too many channels and odd rates are refused by code", async () => {
  const chunk = (channelCount: number, sampleRate: number) => [
    { channelData: Array.from({ length: channelCount }, () => new Float32Array(10)), sampleRate },
  ];
  await expect(takeFromChunks(chunk(9, 44100), "x")).rejects.toMatchObject({ code: "bad-channels" });
  await expect(takeFromChunks(chunk(1, 7999), "x")).rejects.toMatchObject({ code: "bad-rate" });
  await expect(takeFromChunks(chunk(1, 192001), "x")).rejects.toMatchObject({ code: "bad-rate" });
  await expect(takeFromChunks([], "x")).rejects.toMatchObject({ code: "no-sound" });
});

test("decode: silence and one sample are refused by code", () => {
  const code = (samples: Float32Array): string => {
    try {
      checkTake({ samples, sampleRateHz: 8000 }, "x");
      return "accepted";
    } catch (e) {
      return (e as PulgarError).code;
    }
  };
  expect(code(new Float32Array(8000))).toBe("silent");
  expect(code(new Float32Array([1]))).toBe("too-short");
  expect(code(Float32Array.from(sine(220, 1, 8000)))).toBe("accepted");
});

for (const [name, head, container] of [
  ["RIFF", [0x52, 0x49, 0x46, 0x46, 0, 0, 0, 0, 0x57, 0x41, 0x56, 0x45], "wav"],
  ["fLaC, RFC 9639", [0x66, 0x4c, 0x61, 0x43, 0, 0, 0, 34], "flac"],
  ["EBML, RFC 8794", [0x1a, 0x45, 0xdf, 0xa3, 1, 0, 0, 0], "webm"],
  ["ftyp, ISO/IEC 14496-12", [0, 0, 0, 24, 0x66, 0x74, 0x79, 0x70], "m4a"],
  ["ADTS, ISO/IEC 13818-7", [0xff, 0xf1, 0x50, 0x80, 0, 0, 0, 0], "aac"],
  ["MPEG audio sync, ISO/IEC 11172-3", [0xff, 0xfb, 0x90, 0x64, 0, 0, 0, 0], "mp3"],
  ["ID3v2 tag", [0x49, 0x44, 0x33, 4, 0, 0, 0, 0], "mp3"],
] as const)
  test(`sniff: ${name} is ${container}`, () => {
    expect(sniffContainer(Uint8Array.from([...head, ...new Array<number>(40).fill(0)])).container).toBe(
      container,
    );
  });

test("sniff: the length in a WAV header is bytes over frame size over rate", () => {
  const bytes = riffBytes([sine(220, 1, 8000), sine(220, 1, 8000)], 8000, 16);
  expect(sniffContainer(bytes)).toMatchObject({
    container: "wav",
    declaredSec: 1,
    bits: 16,
    channelCount: 2,
    sampleRateHz: 8000,
  });
});

test("sniff: an ISO file whose mdat reaches past its end is cut", () => {
  const box = (len: number, name: string): number[] => [
    0,
    0,
    len >> 8,
    len & 255,
    ...[...name].map((c) => c.charCodeAt(0)),
  ];
  const bytes = Uint8Array.from([...box(8, "ftyp"), ...box(8, "moov"), ...box(100, "mdat")]);
  expect(isIsoCut((idx, len) => bytes.subarray(idx, idx + len), bytes.length)).toBe(true);
  expect(isIsoCut((idx, len) => bytes.subarray(idx, idx + len), 116)).toBe(false);
});

test("decode: a take brought to another rate while it is read is the whole one resampled, and its clipping is counted before", async () => {
  const samples = sine(220, 1.3, 44100).map((x) => Math.max(-1, Math.min(1, 4 * x)));
  const path = write("clipped.wav", riffBytes([samples, samples], 44100, 16));
  const own = await openTake(path);
  const halved = await openTake(path, { rateHz: 22050 });
  expect(own.take.recorded).toBeUndefined();
  expect(halved.take.sampleRateHz).toBe(22050);
  expect([...halved.take.samples]).toEqual([...resample(own.take.samples, 44100, 22050)]);
  const clippedByHand = [...own.take.samples].filter(
    (x, k, all) => Math.min(Math.abs(x), Math.abs(all[k - 1] ?? 0), Math.abs(all[k - 2] ?? 0)) >= 0.999,
  ).length; // the third of a run and all after it
  expect(clippedByHand).toBeGreaterThan(100);
  expect(halved.take.recorded).toEqual({
    sampleRateHz: 44100,
    clippedShare: clippedByHand / own.take.samples.length,
  });
});

test("decode: a header that promises hours costs nothing, and what comes is kept whole", async () => {
  const chunks = Array.from({ length: 300 }, (_, k) => ({
    channelData: [new Float32Array(1000).fill((k + 1) / 1000)],
    sampleRate: 8000,
  }));
  for (const [expectedSec, isShared] of [
    [0, false],
    [14_400, false],
    [0, true],
    [14_400, true],
  ] as const) {
    const before = process.memoryUsage.rss();
    const { take } = await takeFromChunks(chunks, "x", { expectedSec, isShared });
    expect(take.samples.buffer instanceof SharedArrayBuffer).toBe(isShared);
    expect(process.memoryUsage.rss() - before).toBeLessThan(64e6); // four hours at 8 kHz would be 461 MB
    expect(take.samples.length).toBe(300_000);
    expect([0, 1000, 299_999].map((k) => take.samples[k])).toEqual([0.001, 0.002, 0.3].map(Math.fround));
  }
});
