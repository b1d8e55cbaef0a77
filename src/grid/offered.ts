/** Which readings of an estimated tempo to put beside it: the surest other one, the double and the half. */
import type { Grid, GridReading } from "./grid.js";

const OFFERED_DEFAULTS = {
  near: 0.03, // ratio of two tempi, off from 2 or 1/2 by at most this share
} as const;

/** At most three, the surest other reading first; none of them is the one the grid stands on, `readings[0]`. */
export function offeredReadings({ readings, tempoBpm }: Pick<Grid, "readings" | "tempoBpm">): GridReading[] {
  const others = readings.slice(1);
  const atRatio = (ratio: number): GridReading | undefined =>
    others.find((r) => Math.abs(r.tempoBpm / tempoBpm / ratio - 1) < OFFERED_DEFAULTS.near);
  const chosen = [others[0], atRatio(2), atRatio(0.5)].filter((r) => r !== undefined);
  return [...new Set(chosen)];
}
