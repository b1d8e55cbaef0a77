/** How sure an estimated tempo is of its beat, and which readings to put beside it. */
import type { Grid, GridReading } from "./grid.js";

const OFFERED_DEFAULTS = {
  same: 0.01, // ratio of two tempi that are one
  near: 0.03, // ratio of two tempi, off from 2 or 1/2 by at most this share
  sureOfBeat: 0.92, // probability under which another beat is as well possible: tests/bench/tempo.bench.ts has how often it is said in vain
  sureOfBar: 0.6, // part of it that the bar must have
} as const;

type Readings = Pick<Grid, "readings">;

const isTempo =
  (bpm: number) =>
  (r: GridReading): boolean =>
    Math.abs(r.tempoBpm / bpm - 1) < OFFERED_DEFAULTS.same;

/** Probability that the beat of `readings[0]` is right, whatever the bar, 0…1. */
export function beatConfidence({ readings }: Readings): number {
  const ofBeat = readings.filter(isTempo(readings[0]?.tempoBpm ?? 0));
  return Math.min(
    1,
    ofBeat.reduce((sum, r) => sum + r.confidence, 0),
  );
}

/** What of an estimated tempo is unsure: its beat, only the bar, or nothing. */
export function unsureOf(grid: Readings): "beat" | "bar" | undefined {
  const beat = beatConfidence(grid);
  if (beat < OFFERED_DEFAULTS.sureOfBeat) return "beat";
  return (grid.readings[0]?.confidence ?? 0) < OFFERED_DEFAULTS.sureOfBar * beat ? "bar" : undefined;
}

/** At most four: the surest other reading, the surest with another beat where the beat is unsure, the double and the half; none of them is
 * the one the grid stands on, `readings[0]`. */
export function offeredReadings({ readings, tempoBpm }: Pick<Grid, "readings" | "tempoBpm">): GridReading[] {
  const others = readings.slice(1);
  const atRatio = (ratio: number): GridReading | undefined =>
    others.find((r) => Math.abs(r.tempoBpm / tempoBpm / ratio - 1) < OFFERED_DEFAULTS.near);
  const isSame = isTempo(readings[0]?.tempoBpm ?? 0);
  const otherBeat = unsureOf({ readings }) === "beat" ? others.find((r) => !isSame(r)) : undefined;
  const chosen = [others[0], otherBeat, atRatio(2), atRatio(0.5)].filter((r) => r !== undefined);
  return [...new Set(chosen)];
}
