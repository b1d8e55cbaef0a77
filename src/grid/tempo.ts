import type { PlayedNote } from "../notes/played-note.js";
import type { GridReading, Meter } from "./grid.js";

export function estimateTempo(
  _notes: readonly PlayedNote[],
  options: { meter?: Meter | undefined },
): GridReading[] {
  return [{ tempoBpm: 90, meter: options.meter ?? { beats: 4, unit: 4 }, confidence: 0, why: "" }];
}
