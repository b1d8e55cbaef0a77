import { expect, test } from "vitest";
import { findGrid, type GridOptions } from "../../src/grid/beats.js";
import { gridFindings } from "../../src/grid/findings.js";
import { type PerformOptions, perform } from "../helpers/takes/perform.js";
import { makeRng } from "../helpers/takes/rng.js";
import { studyNamed } from "../helpers/takes/studies.js";
import { simulateListening } from "./simulate.js";

const study = studyNamed("low-tide");
const given = { tempoBpm: study.tempoBpm, meter: study.meter };
function rules(played: PerformOptions, options: GridOptions): string[] {
  const performance = perform(study, { seed: 5, ...played });
  const listening = simulateListening(performance);
  const clicks = performance.countIn.map((c) => c.atSec);
  const grid = findGrid(listening, { ...options, clicks });
  return gridFindings(listening.notes, grid, options).map((f) => f.rule);
}

test("findings: nothing odd in a steady take at the tempo said", () => expect(rules({}, given)).toEqual([]));
test("findings: a count-in that was skipped is told, unless it was said", () => {
  expect(rules({ countIn: "clicks" }, given)).toContain("count-in");
  expect(rules({ countIn: "clicks" }, { ...given, countInBeats: 4 })).not.toContain("count-in");
});
test("findings: an estimate is told as one", () => expect(rules({}, {})).toContain("tempo-estimated"));
test("findings: a tempo said wrong is answered", () =>
  expect(rules({}, { ...given, tempoBpm: study.tempoBpm * 1.23 })).toContain("tempo-disagrees"));
test("findings: a pause is told with its bar", () => {
  const performance = perform(study, { seed: 5, pauses: [{ beforeBar: 7, sec: 1 }] });
  const listening = simulateListening(performance);
  const found = gridFindings(listening.notes, findGrid(listening, given), given).filter(
    (f) => f.rule === "pause",
  );
  expect(found.map((f) => f.bar)).toEqual([6]);
});
test("findings: notes on no steps are free time", () => {
  const rng = makeRng("free time");
  let sec = 0.5;
  const notes = Array.from({ length: 80 }, () => {
    sec += 0.08 + rng.next() * 0.82;
    return { onsetSec: sec, offsetSec: sec + 0.5, midi: 45 + rng.int(20), confidence: 0.95, velocity: 0.6 };
  });
  const listening = { ...simulateListening(perform(study)), notes, candidates: [] };
  const found = gridFindings(notes, findGrid(listening, given), given).map((f) => f.rule);
  expect(found).toContain("free-time");
});
