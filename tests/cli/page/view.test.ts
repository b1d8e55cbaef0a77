import { expect, test } from "vitest";
import { pageCheck, pageSheet, secOf } from "../../../cli/page/view.js";
import { perform, tickToSec } from "../../helpers/takes/perform.js";
import { studyNamed } from "../../helpers/takes/studies.js";
import { toSheet } from "../../helpers/takes/to-sheet.js";

for (const name of ["mixolydian-over-a", "corner-table", "gate-latch"]) // straight, swing, with a pick-up
  test(`page view: ${name}: every note stands where the performance puts its tick`, () => {
    const study = studyNamed(name);
    const performance = perform(study, { seed: 1, jitterMs: 0 });
    const sheet = toSheet(study, performance);
    const swing = study.feel === "swing" ? study.swingRatio : 1;
    const full = pageSheet(sheet, performance.durationSec);
    expect(full.notes).toHaveLength(sheet.notes.length);
    for (const note of full.notes.filter((n) => n.bar > 0 && !n.marks.includes("grace")))
      expect(
        Math.abs(
          note.startSec - tickToSec(performance.beatSec, study.meter.beats, note.bar, note.tick, swing),
        ),
      ).toBeLessThan(0.002);
    const starts = full.bars.map((b) => b.startSec);
    expect([...starts].sort((a, b) => a - b)).toEqual(starts);
  });

test("page view: without a recording the tempo is the clock (by hand: 96 a minute, bar 2 beat 3 is 6 beats on, 3.75 s)", () => {
  const sheet = toSheet(studyNamed("mixolydian-over-a"));
  const bare = { ...sheet, grid: { ...sheet.grid, tempoBpm: 96, beatSec: [], firstBeatSec: 0 } };
  expect(secOf(bare, 2, 48)).toBeCloseTo(3.75, 6);
});

test("page view: ids are unique and a hand's note is never unsure", () => {
  const sheet = toSheet(studyNamed("mixolydian-over-a"));
  const notes = sheet.notes.map((n, k) => ({
    ...n,
    by: k % 2 ? ("hand" as const) : ("machine" as const),
    confidence: 0.3,
  }));
  const view = pageSheet({ ...sheet, notes }, 0);
  expect(new Set(view.notes.map((n) => n.id)).size).toBe(notes.length);
  expect(view.notes.every((n) => n.isUnsure === (n.by === "machine"))).toBe(true);
});

test("page view: the check's differences in words", () => {
  const summary = { written: 1, matched: 0, missing: 0, extra: 0, wrongPitch: 1, timing: 0 };
  const difference = {
    kind: "wrong-pitch",
    bar: 1,
    beat: 2.5,
    string: 3,
    fret: 2,
    writtenMidi: 57,
    playedMidi: 59,
    playedFret: 4,
    confidence: 0.9,
  } as const;
  const bars = [{ bar: 1, verdict: "differs" as const }];
  const report = { summary, bars, differences: [difference], findings: [], heardAtSec: [] };
  const check = pageCheck(report, toSheet(studyNamed("mixolydian-over-a")), "a-1");
  expect(check.kind === "done" && check.differences[0]?.text).toBe(
    "beat 2.5, string 3: A3 is written, B3 is heard: fret 4 (90 % sure)",
  );
});
