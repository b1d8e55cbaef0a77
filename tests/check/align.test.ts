import { spawnSync } from "node:child_process";
import { expect, test } from "vitest";
import { alignSheet } from "../../src/check/align.js";
import { simulateListening } from "../helpers/check/simulate.js";
import { playTiny, risingBars, tinyListening, tinySheet } from "../helpers/check/tiny.js";
import { withoutRhythm } from "../helpers/check/trial.js";
import { hasPython, testNeeding } from "../helpers/needs.js";
import { type Performance, type PerformOptions, perform } from "../helpers/takes/perform.js";
import { inOrder, repeating, skipping } from "../helpers/takes/rearrange.js";
import { studyNamed } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";

const study = studyNamed("winding-stair"); // no bar comes back
const sheet = toSheet(study);
const play = (options: PerformOptions = {}): Performance =>
  perform(study, { seed: 2, jitterMs: 8, drift: 0.02, ...options });
const listenTo = (performance: Performance, shift = 0) =>
  simulateListening(
    [...performance.before, ...performance.notes]
      .map((n) => ({ ...n, midi: n.midi + shift }))
      .sort((a, b) => a.onsetSec - b.onsetSec),
    performance.durationSec,
    { seed: 4 },
  );

/** Written notes' times as aligned beside those played, by bar, tick and string. */
function pairsOf(performance: Performance, written = sheet, shift = 0) {
  const { events } = alignSheet(written, listenTo(performance, shift));
  const pairs: [played: number, aligned: number][] = [];
  const played = new Map(performance.notes.map((n) => [`${n.bar} ${n.tick} ${n.string}`, n.onsetSec]));
  for (const event of events)
    event.noteIdxs.forEach((noteIdx, i) => {
      const note = sheet.notes[noteIdx];
      const sec = event.noteSec[i];
      const truth = played.get(`${note?.bar} ${note?.tick} ${note?.string}`);
      if (truth !== undefined && sec !== undefined) pairs.push([truth, sec]);
    });
  return pairs;
}
const stats = (pairs: [number, number][]) => {
  const errors = pairs.map(([a, b]) => Math.abs(a - b)).sort((a, b) => a - b);
  return {
    medianMs: (errors[errors.length >> 1] ?? 1) * 1000,
    within50Ms: errors.filter((e) => e <= 0.05).length / Math.max(1, errors.length),
    count: errors.length,
  };
};

const WAYS: readonly (readonly [string, PerformOptions])[] = [
  ["steady", {}],
  ["a late start", { leadSec: 7 }],
  ["clicks before", { countIn: "clicks" }],
  ["a false start", { falseStartBeats: 5 }],
  ["a pause of three seconds", { pauses: [{ beforeBar: 5, sec: 3 }] }],
  ["faster by a quarter from bar 5", { tempoSteps: [{ fromBar: 5, factor: 1.25 }] }],
  ["slower by a third from bar 5", { tempoSteps: [{ fromBar: 5, factor: 0.67 }] }],
  ["rubato", { rubato: 0.2 }],
];
for (const [what, options] of WAYS)
  test(`check/align: ${what}: median error at most 15 ms, 99 % of the notes within 50 ms (target of the issue)`, () => {
    const { medianMs, within50Ms, count } = stats(pairsOf(play(options)));
    expect(count).toBe(study.notes.length);
    expect(medianMs).toBeLessThanOrEqual(15);
    expect(within50Ms).toBeGreaterThanOrEqual(0.99);
  });

test("check/align: a tab without rhythm is followed as well", () => {
  const { medianMs, within50Ms } = stats(pairsOf(play(), withoutRhythm(sheet)));
  expect(medianMs).toBeLessThanOrEqual(15);
  expect(within50Ms).toBeGreaterThanOrEqual(0.97);
});

for (const shift of [3, -2])
  test(`check/align: a recording ${shift} semitones away is found there and said`, () => {
    const alignment = alignSheet(sheet, listenTo(play(), shift));
    expect(alignment.transposeSemitones).toBe(shift);
    expect(alignment.findings.map((f) => f.rule)).toContain("other-pitch");
    expect(stats(pairsOf(play(), sheet, shift)).within50Ms).toBeGreaterThanOrEqual(0.99);
  });

test("check/align: bars left out are said and have no time; the rest keeps its place", () => {
  const performance = perform(inOrder(study, skipping(study, 3, 5)), { seed: 2, jitterMs: 8 });
  const { events, findings } = alignSheet(sheet, listenTo(performance));
  expect(findings.find((f) => f.rule === "left-out")?.message).toContain("Bars 3–5");
  expect([...new Set(events.filter((e) => e.sec === undefined).map((e) => e.bar))]).toEqual([3, 4, 5]);
});

test("check/align: a section played twice is said, and its second time is not held against the sheet", () => {
  const performance = perform(inOrder(study, repeating(study, 3, 6)), { seed: 2, jitterMs: 8 });
  const { events, findings, ignored } = alignSheet(sheet, listenTo(performance));
  expect(findings.find((f) => f.rule === "section-repeated")?.message).toContain("Bars 3–6");
  expect(events.every((e) => e.sec !== undefined)).toBe(true);
  expect(ignored.some((s) => s.why === "repeated")).toBe(true);
});

for (const [rule, options] of [
  ["false-start", { falseStartBeats: 5 }],
  ["pause", { pauses: [{ beforeBar: 5, sec: 3 }] }],
] as const)
  test(`check/passages: ${rule} is said`, () => {
    const { findings } = alignSheet(
      sheet,
      listenTo(play({ ...options, ...("pauses" in options ? { pauses: [...options.pauses] } : {}) })),
    );
    expect(findings.map((f) => f.rule)).toContain(rule);
  });

for (const [sounds, rule] of [
  [1, "pause"],
  [5, "unwritten-bar"],
] as const)
  test(`check/passages: three seconds with ${sounds} heard onset${sounds > 1 ? "s" : ""} in them are ${rule}`, () => {
    const tiny = tinySheet(risingBars(6));
    const played = playTiny(tiny, 1, 0.4).map((n) => (n.bar > 3 ? { ...n, sec: n.sec + 3 } : n));
    const between = Array.from({ length: sounds }, (_, k) => ({ sec: 6.6 + 0.4 * k, midi: 50 + k }));
    const { findings } = alignSheet(tiny, tinyListening([...played, ...between], 16));
    expect(findings.map((f) => f.rule)).toEqual([rule]);
  });

test("check/passages: a steady reading has nothing to say", () => {
  expect(alignSheet(sheet, listenTo(play())).findings).toEqual([]);
});

testNeeding(
  hasPython("mir_eval"),
  "Debian's python3-mir-eval",
  "check/align: mir_eval matches 99 % of aligned onsets within 50 ms",
  () => {
    const pairs = pairsOf(play({ rubato: 0.1 }));
    const script =
      "import sys,json,numpy as n,mir_eval\nr,e=json.load(sys.stdin)\nprint(mir_eval.onset.f_measure(n.sort(n.array(r)),n.sort(n.array(e)),window=0.05)[0])";
    const input = JSON.stringify([pairs.map((p) => p[0]), pairs.map((p) => p[1])]);
    const out = spawnSync("/usr/bin/python3", ["-W", "ignore", "-c", script], { input, encoding: "utf8" });
    expect(Number(out.stdout)).toBeGreaterThanOrEqual(0.99);
  },
);
