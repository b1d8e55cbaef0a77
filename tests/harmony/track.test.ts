import { expect, test } from "vitest";
import { PulgarError } from "../../src/base/errors.js";
import { sayTrack } from "../../src/harmony/say.js";
import { findTrackKey } from "../../src/harmony/track.js";
import { trackKeyToJson } from "../../src/harmony/track-json.js";
import { pitchClassOf } from "../../src/theory/pitch.js";
import { testNeeding } from "../helpers/needs.js";
import { hasTracks, renderTrack } from "../helpers/tracks/render.js";

const RATE_HZ = 22050;

/** Chords of plain tones with overtones, a low root below, `sec` seconds each. Lowest note first. */
function play(chords: readonly (readonly number[])[], sec: number, cents = 0): Float32Array {
  const len = Math.round(sec * RATE_HZ);
  const out = new Float32Array(len * chords.length);
  chords.forEach((notes, c) => {
    for (const midi of notes) {
      const hz = 440 * 2 ** ((midi - 69 + cents / 100) / 12);
      for (let h = 1; h <= 6; h++)
        for (let n = 0; n < len; n++)
          out[c * len + n] =
            (out[c * len + n] ?? 0) +
            (0.05 / h) * Math.sin((2 * Math.PI * h * hz * n) / RATE_HZ) * Math.exp(-n / len);
    }
  });
  return out;
}

const A = [45, 57, 61, 64];
const G = [43, 55, 59, 62];
const D = [50, 57, 62, 66];
const E = [40, 56, 59, 64];
const loop = <T>(list: readonly T[], times: number): T[] => Array.from({ length: times }, () => list).flat();

test("harmony track: A G D A over and over is A mixolydian, tuned 31 cents sharp (facts of the trade)", () => {
  const found = findTrackKey({ samples: play(loop([A, G, D, A], 4), 1.6, 31), sampleRateHz: RATE_HZ });
  expect([found.tonic, found.mode, found.parentScale]).toEqual(["A", "mixolydian", "D major"]);
  expect(found.undecided).toEqual([]);
  expect(Math.abs(found.tuningCents - 31)).toBeLessThan(3);
  expect(found.chords.map((c) => c.symbol).slice(0, 3)).toEqual(["A", "G", "D"]);
  expect(found.sections).toHaveLength(1);
});

test("harmony track: A D alone leaves the seventh open: ionian or mixolydian, and the degree is named", () => {
  const found = findTrackKey({ samples: play(loop([A, D], 8), 1.6), sampleRateHz: RATE_HZ });
  expect(found.tonic).toBe("A");
  const pair = found.undecided.find((u) => u.between.includes("ionian") && u.between.includes("mixolydian"));
  expect(pair?.missingDegree).toMatch(/7$/);
  expect(sayTrack(found)).toMatch(/the music does not decide/);
});

test("harmony track: A D E with its G# is A ionian and decided", () => {
  const found = findTrackKey({ samples: play(loop([A, D, E, A], 4), 1.6), sampleRateHz: RATE_HZ });
  expect([found.tonic, found.mode, found.undecided.length]).toEqual(["A", "ionian", 0]);
});

const Am = [45, 57, 60, 64];
const F = [41, 57, 60, 65];
const E7 = [40, 56, 59, 62, 64];
const up = (chords: readonly (readonly number[])[], by: number) => chords.map((c) => c.map((m) => m + by));

test("harmony track: Am F G Am, then the same a minor third up, is two sections, A and C aeolian (by construction)", () => {
  const verse = loop([Am, F, G, Am], 3);
  const found = findTrackKey({ samples: play([...verse, ...up(verse, 3)], 1.3), sampleRateHz: RATE_HZ });
  expect(found.sections.map((s) => `${s.tonic} ${s.mode}`)).toEqual(["A aeolian", "C aeolian"]);
  expect(Math.abs((found.sections[1]?.startSec ?? 0) - 12 * 1.3)).toBeLessThan(2 * 1.3);
});

test("harmony track: a minor key that raises its seventh for the last bars is one section (facts of the trade)", () => {
  const found = findTrackKey({
    samples: play([...loop([Am, F, G, Am], 4), ...loop([Am, E7], 5)], 1.3),
    sampleRateHz: RATE_HZ,
  });
  expect(found.sections).toHaveLength(1);
  expect(found.tonic).toBe("A");
});

test("harmony track: the JSON has the fixed fields and round-trips", () => {
  const found = findTrackKey({ samples: play(loop([A, G, D, A], 3), 1.6), sampleRateHz: RATE_HZ });
  const json = JSON.parse(JSON.stringify(trackKeyToJson(found))) as Record<string, unknown>;
  expect(json.format).toBe("pulgar.key");
  for (const field of [
    "tonic",
    "mode",
    "confidence",
    "candidates",
    "undecided",
    "evidence",
    "tuningCents",
    "chords",
    "sections",
  ])
    expect(json[field]).toBeDefined();
});

for (const [title, samples, code] of [
  ["half a second", new Float32Array(RATE_HZ / 2), "too-short"],
  ["five seconds of silence", new Float32Array(RATE_HZ * 5), "silent"],
] as const)
  test(`harmony track: ${title} is refused as ${code}`, () => {
    let caught: unknown;
    try {
      findTrackKey({ samples, sampleRateHz: RATE_HZ });
    } catch (e) {
      caught = e;
    }
    expect(caught instanceof PulgarError && caught.code).toBe(code);
  });

testNeeding(
  hasTracks(),
  "fluidsynth and fluid-soundfont-gm",
  "harmony track: four full-band tracks have the tonic and mode they were composed in",
  () => {
    for (const seed of [0, 15, 22, 40]) {
      const { spec, take, truth } = renderTrack(seed);
      const found = findTrackKey(take);
      expect([seed, pitchClassOf(found.tonic), found.mode]).toEqual([seed, spec.tonicPc, truth.mode]);
      expect(Math.abs(found.tuningCents - truth.tuningCents)).toBeLessThan(4);
    }
  },
);
