import { spawnSync } from "node:child_process";
import { describe, expect, test } from "vitest";
import { findGrid } from "../../src/grid/beats.js";
import { placeNotes } from "../../src/grid/place.js";
import { hasPython, testNeeding } from "../helpers/needs.js";
import { beatFMeasure } from "../helpers/score/beats.js";
import { placementRate } from "../helpers/score/take.js";
import { perform } from "../helpers/takes/perform.js";
import { namedStudies, studyNamed } from "../helpers/takes/studies.js";
import { simulateListening } from "./simulate.js";

// Beat F as mir_eval.beat.f_measure (tests/helpers/score holds the two equal). Truth: performances composed here.
describe("grid/beats", () => {
  const studies = namedStudies();
  test("beats: there are studies to try", () => expect(studies.length).toBeGreaterThan(10));
  for (const [name, jitterMs, drift, misses, least] of [
    ["clean", 5, 0.005, 0.01, 0.995],
    ["hard: 12 ms jitter, 3 % drift", 12, 0.03, 0.05, 0.98],
  ] as const)
    test(`beats: every named study on its beats, ${name}`, () => {
      let right = 0;
      let count = 0;
      let beatF = 0;
      studies.forEach((study, idx) => {
        const performance = perform(study, { seed: idx + 1, jitterMs, drift, countIn: "clicks" });
        const listening = simulateListening(performance, { seed: idx, misses });
        const clicks = performance.countIn.map((c) => c.atSec);
        const grid = findGrid(listening, { tempoBpm: study.tempoBpm, meter: study.meter, clicks });
        const rate = placementRate(performance.notes, placeNotes(listening.notes, grid));
        right += rate.rate * rate.count;
        count += rate.count;
        beatF += beatFMeasure(performance.beatSec, grid.beatSec) / studies.length;
        expect(grid.feel, study.name).toBe(study.feel);
        expect(Math.abs((grid.beatSec[0] ?? 0) - (performance.beatSec[0] ?? 9)), study.name).toBeLessThan(
          0.07,
        );
      });
      expect(right / count).toBeGreaterThanOrEqual(least);
      expect(beatF).toBeGreaterThanOrEqual(0.985);
    });

  test("beats: --start and --count-in override what was found", () => {
    const performance = perform(studyNamed("low-tide"), { seed: 3 });
    const listening = simulateListening(performance);
    const base = { tempoBpm: 88, meter: { beats: 4, unit: 4 } };
    const startSec = performance.beatSec[4] ?? 0;
    expect(findGrid(listening, { ...base, startSec }).beatSec[0]).toBeCloseTo(startSec, 1);
    expect(findGrid(listening, { ...base, countInBeats: 0 }).countInBeats).toBe(0);
  });

  // Upbeats of an eighth and of three sixteenths are the usual ones besides whole beats: common practice, no published source.
  for (const [title, shares] of [
    ["an eighth", [1 / 2]],
    ["three sixteenths", [3 / 4, 1 / 2, 1 / 4]],
  ] as const)
    test(`beats: a pick-up of ${title} leads into bar 1`, () => {
      for (const name of ["mixolydian-over-a", "low-tide", "stones-in-the-brook", "mill-wheel"]) {
        const study = studyNamed(name);
        const performance = perform(study, { seed: 7, leadSec: 1.5 });
        const listening = simulateListening(performance);
        const firstSec = performance.beatSec[0] as number;
        const upbeat = shares.map((share) => {
          const onsetSec = firstSec - (share * 60) / study.tempoBpm;
          return { onsetSec, offsetSec: onsetSec + 0.2, midi: 69, confidence: 0.95, velocity: 0.5 };
        });
        const notes = [...upbeat, ...listening.notes];
        const grid = findGrid(
          { ...listening, notes },
          { tempoBpm: study.tempoBpm, meter: study.meter, feel: study.feel },
        );
        expect(Math.abs((grid.beatSec[0] ?? 0) - firstSec), name).toBeLessThan(0.07);
        expect(grid.pickupBeats).toBe(1);
        const placed = placeNotes(notes, grid).slice(0, shares.length);
        expect(placed.map((n) => [n.bar, n.tick])).toEqual(shares.map((share) => [0, 24 - 24 * share]));
      }
    });

  test("beats: tempi and meters no player means are refused by code", () => {
    const listening = simulateListening(perform(studyNamed("low-tide")));
    expect(() => findGrid(listening, { tempoBpm: 0 })).toThrowError(
      expect.objectContaining({ code: "bad-tempo" }),
    );
    expect(() => findGrid(listening, { tempoBpm: 90, meter: { beats: 4, unit: 5 } })).toThrowError(
      expect.objectContaining({ code: "bad-meter" }),
    );
    expect(() => findGrid({ ...listening, notes: [] }, {})).toThrowError(
      expect.objectContaining({ code: "no-notes" }),
    );
  });

  testNeeding(
    hasPython("mir_eval"),
    "Debian python3-mir-eval",
    "beats: mir_eval.beat itself, F and continuity at the right level, on hard takes",
    () => {
      const rows = ["low-tide", "rain-on-slate", "two-brothers", "corner-table", "winding-stair"].map(
        (name, idx) => {
          const study = studyNamed(name);
          const performance = perform(study, { seed: 40 + idx, jitterMs: 12, drift: 0.03 });
          const listening = simulateListening(performance, { seed: idx, misses: 0.05 });
          const grid = findGrid(listening, { tempoBpm: study.tempoBpm, meter: study.meter });
          return [performance.beatSec, grid.beatSec];
        },
      );
      const code = [
        "import json, sys, numpy as np, mir_eval.beat as b",
        "out = [(b.f_measure(np.array(r), np.array(e)), b.continuity(np.array(r), np.array(e))[1]) for r, e in json.load(sys.stdin)]",
        "print(json.dumps(out))",
      ].join("\n");
      const run = spawnSync("/usr/bin/python3", ["-W", "ignore", "-c", code], {
        input: JSON.stringify(rows),
        encoding: "utf8",
      });
      expect(run.status, run.stderr).toBe(0);
      const scores = JSON.parse(run.stdout) as [number, number][];
      expect(scores).toHaveLength(rows.length);
      const meanOf = (k: 0 | 1): number => scores.reduce((s, x) => s + x[k], 0) / scores.length;
      expect(meanOf(0)).toBeGreaterThanOrEqual(0.97);
      expect(meanOf(1)).toBeGreaterThanOrEqual(0.95);
    },
  );
});
