import type { CheckReport, Difference } from "../../../src/check/report.js";
import type { Sheet } from "../../../src/sheet/sheet.js";
import { PLANTED_KINDS, type PlantedDifference, type PlantedKind, plantErrors } from "../takes/mistakes.js";
import { type Performance, tickToSec } from "../takes/perform.js";
import type { Study } from "../takes/study.js";
import { toSheet } from "../takes/to-sheet.js";

/** A spoiled sheet with all that is known of its errors, to be held against a take of the right study. */
export type Trial = {
  study: Study;
  spoiled: Study;
  sheet: Sheet;
  planted: { kind: PlantedKind; bars: number[]; differences: PlantedDifference[] }[];
  leftOutBar?: number;
};

/** The same sheet as a tab that says only the order of its columns. */
export function withoutRhythm(sheet: Sheet): Sheet {
  const ranks = new Map<number, number[]>();
  for (const n of sheet.notes) {
    const ticks = ranks.get(n.bar) ?? [];
    ranks.set(n.bar, ticks);
    if (!ticks.includes(n.tick)) ticks.push(n.tick);
  }
  for (const ticks of ranks.values()) ticks.sort((a, b) => a - b);
  const bare = {
    ...sheet,
    groupOfBar: [],
    form: [],
    chords: [],
    rhythm: "none" as const,
    grid: { ...sheet.grid, beatSec: [], confidence: 0, feel: "straight" as const, swingRatio: 1 },
    notes: sheet.notes.map((n) => ({
      ...n,
      tick: 6 * (ranks.get(n.bar) ?? []).indexOf(n.tick),
      lengthTicks: 6,
    })),
  };
  return bare;
}

/** Errors planted: in even trials one of each kind but the bar left out, in odd ones a bar left out with a wrong fret and a missing note
 * beside it (a bar left out moves all others, and would hide what stands in it). */
export function makeTrial(study: Study, seed: number, kinds?: readonly PlantedKind[]): Trial {
  const wanted =
    kinds ?? (seed % 2 === 0 ? PLANTED_KINDS.filter((k) => k !== "bar-left-out") : LEFT_OUT_KINDS);
  const { study: spoiled, planted } = plantErrors(study, { seed, kinds: wanted });
  const leftOutBar = planted.find((p) => p.kind === "bar-left-out")?.bars[0];
  return {
    study,
    spoiled,
    sheet: { ...toSheet(spoiled), chords: [] },
    planted,
    ...(leftOutBar === undefined ? {} : { leftOutBar }),
  };
}

const LEFT_OUT_KINDS: readonly PlantedKind[] = ["wrong-fret", "missing", "bar-left-out"];

export type Tally = { planted: number; found: number; reported: number; right: number; kindRight: number };
const emptyTally = (): Tally => ({ planted: 0, found: 0, reported: 0, right: 0, kindRight: 0 });
export const f1Of = (t: Tally): number => {
  const precision = t.reported === 0 ? 1 : t.right / t.reported;
  const recall = t.planted === 0 ? 1 : t.found / t.planted;
  return precision + recall === 0 ? 0 : (2 * precision * recall) / (precision + recall);
};

const NEAR_SEC = 0.15;

/** Hold a report against what was planted. A planted difference is found when a reported one in its bar, at its beat or within 150 ms, names the same
 * written or the same played pitch; a reported one is right when it touches a planted one. A bar left out counts as one difference,
 * found when half of its notes, or a finding at its place, say so. Timing differences count as false: none is planted. */
export function scoreTrial(
  report: CheckReport,
  trial: Trial,
  performance: Performance,
  tallies: Map<string, Tally>,
): { falseOnes: Difference[]; missedOnes: (PlantedDifference & { of: PlantedKind })[] } {
  const beats = trial.study.meter.beats;
  const trueBar = (bar: number): number =>
    trial.leftOutBar !== undefined && bar >= trial.leftOutBar ? bar + 1 : bar;
  const tickSec = (bar: number, tick: number): number =>
    tickToSec(performance.beatSec, beats, trueBar(bar), tick, trial.study.swingRatio);
  const touches = (d: Difference, p: PlantedDifference): boolean => {
    if (d.kind === "early" || d.kind === "late") return false;
    if (Math.abs(d.bar - p.bar) > 1) return false;
    const samePlace =
      d.bar === p.bar && Math.abs(d.beat - 1 - p.tick / 24) < 0.1 && trial.sheet.grid.confidence > 0;
    if (
      !samePlace &&
      (d.onsetSec === undefined ? d.bar !== p.bar : Math.abs(d.onsetSec - tickSec(p.bar, p.tick)) > NEAR_SEC)
    )
      return false;
    const sameWritten = "writtenMidi" in p && d.writtenMidi === p.writtenMidi;
    const samePlayed = "playedMidi" in p && d.playedMidi === p.playedMidi;
    return sameWritten || samePlayed;
  };
  const tallyOf = (kind: string): Tally => {
    const tally = tallies.get(kind) ?? emptyTally();
    tallies.set(kind, tally);
    return tally;
  };
  const missedOnes: (PlantedDifference & { of: PlantedKind })[] = [];
  for (const { kind, differences } of trial.planted) {
    if (kind === "bar-left-out") continue;
    const tally = tallyOf(kind);
    for (const p of differences) {
      tally.planted++;
      const hits = report.differences.filter((d) => touches(d, p));
      if (hits.length > 0) tally.found++;
      else missedOnes.push({ ...p, of: kind });
      if (hits.some((d) => d.kind === p.kind)) tally.kindRight++;
    }
  }
  const falseOnes: Difference[] = [];
  const gone = trial.leftOutBar;
  // Among equal bars in a row nobody can say which one is left out.
  let [firstGone, lastGone] = [gone ?? 1, gone ?? 0];
  const groups = trial.study.groupOfBar;
  while (firstGone > 1 && groups[firstGone - 2] === groups[firstGone - 1]) firstGone--;
  while (lastGone > 0 && lastGone < groups.length && groups[lastGone] === groups[lastGone - 1]) lastGone++;
  const fromSec = (performance.beatSec[(firstGone - 1) * beats] ?? 0) - NEAR_SEC;
  const toSec = (performance.beatSec[lastGone * beats] ?? 0) - NEAR_SEC / 2;
  let extras = 0;
  for (const d of report.differences) {
    const owner = trial.planted.find((p) => p.differences.some((x) => touches(d, x)));
    if (owner) {
      const tally = tallyOf(owner.kind);
      tally.reported++;
      tally.right++;
    } else if (
      gone !== undefined &&
      d.kind === "extra" &&
      (d.onsetSec ?? -1) >= fromSec &&
      (d.onsetSec ?? -1) <= toSec
    )
      extras++;
    else {
      falseOnes.push(d);
      tallyOf("false").reported++;
    }
  }
  if (gone !== undefined) {
    const tally = tallyOf("bar-left-out");
    const inBar = trial.study.notes.filter((n) => n.bar === gone).length;
    const said = report.findings.some(
      (f) =>
        ["unwritten-bar", "unwritten-music", "section-repeated"].includes(f.rule) &&
        f.bar >= firstGone - 1 &&
        f.bar <= lastGone,
    );
    tally.planted++;
    if (said || extras >= inBar / 2) {
      tally.found++;
      tally.kindRight++;
      tally.reported++;
      tally.right++;
    }
  }
  return { falseOnes, missedOnes };
}

/** All tallies added up. */
export function totalOf(tallies: ReadonlyMap<string, Tally>): Tally {
  const sum = emptyTally();
  for (const t of tallies.values()) for (const key of Object.keys(sum) as (keyof Tally)[]) sum[key] += t[key];
  return sum;
}
