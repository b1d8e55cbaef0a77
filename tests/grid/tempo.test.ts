import { expect, test } from "vitest";
import { findGrid } from "../../src/grid/beats.js";
import { gridFindings } from "../../src/grid/findings.js";
import { estimateTempo } from "../../src/grid/tempo.js";
import { studiesFrom } from "../bench/grid-takes.js";
import { perform } from "../helpers/takes/perform.js";
import { simulateListening } from "./simulate.js";

// Truth: performances composed here, of seeds that no constant was set on. The levels that count as another reading of the same
// pulse are those of MIREX's tempo task (McKinney, Moelants, Davies & Klapuri 2007, JNMR 36): double, half, triple, third; and
// three against two, as triplets of quarters and sixteenths of eighths are the same steps.
const LEVELS = [2, 1 / 2, 3, 1 / 3, 3 / 2, 2 / 3, 4, 1 / 4, 3 / 4, 4 / 3];
const heard = studiesFrom(9400, 40).map(({ seed, study }) => {
  const played = perform(study, { seed });
  const beats = played.beatSec.length - 1;
  const trueBpm = (60 * beats) / ((played.beatSec[beats] ?? 0) - (played.beatSec[0] ?? 0));
  return { study, trueBpm, listening: simulateListening(played, { seed, misses: 0.01 }) };
});

// Which level is the beat is a matter of taste; the figures over more seeds are in tests/bench/grid-heard.bench.ts.
test("tempo: within 1 % or another level of the same pulse on all but one in forty, the very level on three in four", () => {
  let exact = 0;
  let level = 0;
  for (const { trueBpm, listening } of heard) {
    const ratio = (estimateTempo(listening.notes)[0]?.tempoBpm ?? 0) / trueBpm;
    const near = (q: number): boolean => Math.abs(ratio / q - 1) < 0.01;
    if (near(1)) exact++;
    if ([1, ...LEVELS].some(near)) level++;
  }
  expect(level).toBeGreaterThanOrEqual(heard.length - 1);
  expect(exact / heard.length).toBeGreaterThanOrEqual(0.75);
});

test("tempo: where the level is another one, the true one is among the readings, and the estimate is told as one", () => {
  const off = heard.filter(({ trueBpm, listening }) => {
    const best = estimateTempo(listening.notes)[0]?.tempoBpm ?? 0;
    return LEVELS.some((q) => Math.abs(best / trueBpm / q - 1) < 0.01);
  });
  for (const { study, trueBpm, listening } of off) {
    const grid = findGrid(listening, {});
    expect(
      grid.readings.some((r) => Math.abs(r.tempoBpm / trueBpm - 1) < 0.01),
      study.name,
    ).toBe(true);
    const told = gridFindings(listening.notes, grid).find((f) => f.rule === "tempo-estimated");
    expect(told?.hint).toContain("may also be read as");
  }
});

test("tempo: the counts of a count-in tell the beat: the very level on 19 in 20", () => {
  const counted = studiesFrom(9400, 40).map(({ seed, study }) => {
    const played = perform(study, { seed, countIn: "clicks" });
    const beats = played.beatSec.length - 1;
    const trueBpm = (60 * beats) / ((played.beatSec[beats] ?? 0) - (played.beatSec[0] ?? 0));
    const { notes } = simulateListening(played, { seed, misses: 0.01 });
    const best = estimateTempo(notes, { clicks: played.countIn.map((c) => c.atSec) })[0];
    return Math.abs((best?.tempoBpm ?? 0) / trueBpm - 1) < 0.01;
  });
  expect(counted.filter((right) => right).length).toBeGreaterThanOrEqual(0.95 * counted.length);
});

test("tempo: a meter that is said is kept, and confidences sum to one at most", () => {
  for (const { study, listening } of heard.slice(0, 8)) {
    const readings = estimateTempo(listening.notes, { meter: study.meter });
    expect(readings.every((r) => r.meter.beats === study.meter.beats)).toBe(true);
    expect(readings.reduce((s, r) => s + r.confidence, 0)).toBeLessThanOrEqual(1.001);
  }
});

test("tempo: nothing is said of fewer than four events", () => {
  const few = heard[0]?.listening.notes.slice(0, 2) ?? [];
  expect(estimateTempo(few)).toEqual([]);
});
