// What is odd about the time of a take, as findings.
// In: the played notes, the grid, what the user said. Out: Finding[]. Never throws.
import type { Finding } from "../base/finding.js";
import { roundTo } from "../base/numbers.js";
import type { PlayedNote } from "../notes/played-note.js";
import type { GridOptions } from "./beats.js";
import { closestStepSec } from "./beats.js";
import { rawPosition, unswing } from "./clock.js";
import { gatherEvents } from "./events.js";
import type { Grid } from "./grid.js";
import { offeredReadings, unsureOf } from "./offered.js";
import { chooseSteps, divisionsFor } from "./steps.js";
import { estimateTempo } from "./tempo.js";

const GRID_FINDING_DEFAULTS = Object.freeze({
  unsure: 0.6, // confidence under which the first beat is only a proposal
  looseSec: 0.018, // mean distance from the steps that no steady player has: 17 ms at most on 80 hard takes
  looseShare: 0.11, // the same as share of a sixteenth: 0.103 at most on them
  wanders: 0.12, // a tempo that leaves the usual one by more than this
  disagrees: 0.04, // a tempo given that is off by more than this
});

/** Findings on the grid: "tempo-estimated", "tempo-disagrees", "free-time", "tempo-wanders", "pause", "pick-up", "count-in", "start-unsure". */
export function gridFindings(notes: readonly PlayedNote[], grid: Grid, options: GridOptions = {}): Finding[] {
  const out: Finding[] = [];
  const say = (rule: string, level: Finding["level"], bar: number, message: string, hint: string): void => {
    out.push({ rule, level, bar, message, hint });
  };
  const { meter, tempoBpm } = grid;
  if (grid.tempoFrom === "estimated") {
    const others = offeredReadings(grid)
      .map((r) => `${roundTo(r.tempoBpm, 1)} in ${r.meter.beats}/${r.meter.unit}`)
      .join(", ");
    const unsure = unsureOf(grid);
    say(
      "tempo-estimated",
      unsure === undefined ? "note" : "warning",
      0,
      `tempo estimated: ${roundTo(tempoBpm, 1)} in ${meter.beats}/${meter.unit}${unsure === undefined ? "" : `, unsure of the ${unsure}`}`,
      others === ""
        ? "Give --tempo and --meter to be sure."
        : `It may also be read as ${others}; give --tempo and --meter to be sure.`,
    );
  }
  const fit = stepFit(notes, grid, options);
  const loose =
    fit.count >= 8 &&
    fit.meanSec > GRID_FINDING_DEFAULTS.looseSec &&
    fit.meanSec > GRID_FINDING_DEFAULTS.looseShare * 0.25 * (60 / tempoBpm);
  const lengths = grid.beatSec.slice(1).map((b, k) => b - (grid.beatSec[k] as number));
  if (grid.tempoFrom === "user") {
    const asked = options.tempoBpm ?? tempoBpm;
    const off = tempoBpm / asked - 1;
    const leaves = Math.abs(off) > GRID_FINDING_DEFAULTS.disagrees;
    const heard =
      loose || leaves
        ? estimateTempo(notes, { meter }).find(
            (r) => r.confidence > 0.3 && Math.abs(r.tempoBpm / asked - 1) > 0.02,
          )
        : undefined;
    if (leaves || heard !== undefined)
      say(
        "tempo-disagrees",
        "warning",
        0,
        `the tempo given is ${roundTo(asked, 1)}, the take says ${roundTo(heard?.tempoBpm ?? tempoBpm, 1)}`,
        "Check --tempo; it counts the meter's lower number (eighths in 6/8). Leave it out to have it estimated.",
      );
  }
  if (loose)
    say(
      "free-time",
      "warning",
      0,
      `notes stand ${Math.round(fit.meanSec * 1000)} ms from the steps on average: free time, or another tempo`,
      "Give --tempo and --start, or play it to a click.",
    );
  lengths.forEach((length, k) => {
    const before = lengths[k - 1];
    if (before !== undefined && length > 1.7 * before)
      say(
        "pause",
        "note",
        Math.floor(k / meter.beats) + 1,
        `a pause of ${roundTo(length - before, 2)} s`,
        "Nothing to do; later bars are placed from where the music goes on.",
      );
  });
  const usual = 60 / tempoBpm;
  const wandering = lengths.findIndex(
    (l) => Math.abs(l / usual - 1) > GRID_FINDING_DEFAULTS.wanders && l < 1.7 * usual,
  );
  if (wandering >= 0)
    say(
      "tempo-wanders",
      "note",
      Math.floor(wandering / meter.beats) + 1,
      `the tempo reaches ${roundTo(60 / (lengths[wandering] as number), 0)} here; ${roundTo(tempoBpm, 0)} is the usual one`,
      "The grid follows it; check the bars about here.",
    );
  if (grid.pickupBeats > 0)
    say(
      "pick-up",
      "note",
      0,
      `the music begins with a pick-up of ${grid.pickupBeats} ${grid.pickupBeats === 1 ? "beat" : "beats"}`,
      "If bar 1 begins earlier, give --start.",
    );
  if (grid.countInBeats > 0 && options.countInBeats === undefined)
    say(
      "count-in",
      "note",
      0,
      `a count-in of ${grid.countInBeats} beats was skipped`,
      "If it is music, give --count-in 0.",
    );
  if (grid.tempoFrom === "user" && grid.confidence < GRID_FINDING_DEFAULTS.unsure)
    say(
      "start-unsure",
      "warning",
      1,
      `bar 1 was put at ${roundTo(grid.beatSec[0] ?? 0, 2)} s, but another beat may be the first`,
      "Give --start with the moment of bar 1 beat 1.",
    );
  return out;
}

/** Mean distance of events from their steps, seconds. */
function stepFit(
  notes: readonly PlayedNote[],
  grid: Grid,
  options: GridOptions,
): { meanSec: number; count: number } {
  const periodSec = 60 / grid.tempoBpm;
  const events = gatherEvents(notes, closestStepSec(periodSec, grid.meter.unit));
  const positions = events
    .map((e) => unswing(rawPosition(grid.beatSec, e.sec), grid.swingRatio))
    .filter((u) => u > -grid.pickupBeats - 0.2);
  const ticks = chooseSteps({
    positions,
    beatLenSec: positions.map(() => periodSec),
    beatsPerBar: grid.meter.beats,
    divisions: divisionsFor(grid.meter.unit, options.gridDivision).filter((d) => d <= 4),
  });
  const sum = positions.reduce((s, u, k) => s + Math.abs(u - (ticks[k] as number) / 24) * periodSec, 0);
  return { meanSec: positions.length > 0 ? sum / positions.length : 0, count: positions.length };
}
