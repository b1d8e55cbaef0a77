import { findGrid } from "../../src/grid/beats.js";
import { placeNotes } from "../../src/grid/place.js";
import { groupBars } from "../../src/grid/repeats.js";
import type { Listening, PlayedNote } from "../../src/notes/played-note.js";
import { poolRepeats } from "../../src/notes/pool.js";
import { findForm } from "../../src/sheet/form.js";
import { barSpans } from "./grid-takes.js";

/** Ten minutes of eighths at 120: 2400 notes in 300 bars. */
function longListening(): Listening {
  const notes = Array.from({ length: 2400 }, (_, k): PlayedNote => {
    const onsetSec = 1 + k * 0.25 + 0.012 * Math.sin(k * 7.1);
    return { onsetSec, offsetSec: onsetSec + 0.8, midi: 45 + ((k * 5) % 24), confidence: 0.8, velocity: 0.6 };
  });
  const frameCount = 52000;
  const map = (): Int8Array => new Int8Array(frameCount * 53).fill(-80);
  const evidence = {
    frameSec: 0.0116,
    frameCount,
    lowestMidi: 36,
    pitchCount: 53,
    onset: map(),
    sounding: map(),
  };
  return { notes, candidates: [], evidence, tuningCents: 0, durationSec: 602 };
}

/** Milliseconds of processor time for ten minutes of notes: first call of the process, and warm (least of three). */
export function tenMinutes(): string[] {
  const listening = longListening();
  const once = (options: Parameters<typeof findGrid>[1]): { parts: number[]; sum: number } => {
    const marks = [process.cpuUsage().user];
    const mark = (): void => void marks.push(process.cpuUsage().user);
    const grid = findGrid(listening, options);
    mark();
    const placed = placeNotes(listening.notes, grid);
    mark();
    const { groupOfBar } = groupBars(placed, grid);
    mark();
    poolRepeats(listening, barSpans(grid), groupOfBar);
    mark();
    findForm(groupOfBar);
    mark();
    const parts = marks.slice(1).map((m, k) => (m - (marks[k] ?? 0)) / 1000);
    return { parts, sum: parts.reduce((s, x) => s + x, 0) };
  };
  const given = { tempoBpm: 120, meter: { beats: 4, unit: 4 } };
  return [
    ["tempo given", given],
    ["no tempo", {}],
  ].map(([name, options]) => {
    const first = once(options as typeof given);
    const best = [
      once(options as typeof given),
      once(options as typeof given),
      once(options as typeof given),
    ].sort((a, b) => a.sum - b.sum)[0];
    const [grid, place, group, pool, form] = (best?.parts ?? []).map((x) => x.toFixed(0));
    return `ten minutes of notes, ${name as string}: ${best?.sum.toFixed(0)} ms (grid ${grid}, place ${place}, same bars ${group}, pooling ${pool}, form ${form}); the first time ${first.sum.toFixed(0)} ms`;
  });
}
