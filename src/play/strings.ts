/** Sheet → sound: the written notes as plucked strings.
 * In: a sheet. Out: mono samples, starting with the first bar. Repeats are played out, swing and the player's pulse are followed.
 * Method: `pluck.ts` for each note, `body.ts` over the sum, peak set to −3 dB.
 * Cannot: slides and bends as glides (they are plucked softly), vibrato. */
import { playedBars, playedEvents } from "../base/playback.js";
import type { Sheet, SheetNote } from "../sheet/sheet.js";
import { addBody } from "./body.js";
import { addPluck } from "./pluck.js";

export type RenderOptions = { sampleRateHz: number };

/** Peak of the rendered sheet: −3 dB leaves room for encoders. */
const PEAK = 10 ** (-3 / 20);
/** Silence after the last bar, for the strings to die. */
const TAIL_SEC = 1.5;

/** @returns mono samples, −0.71…0.71; empty sheet: silence of its bars */
export function renderSheet(sheet: Sheet, { sampleRateHz }: RenderOptions): Float32Array {
  const bars = playedBars(sheet.grid, sheet.repeats);
  const endSec = bars.at(-1)?.beatSec.at(-1) ?? 0;
  const out = new Float32Array(Math.ceil((endSec + TAIL_SEC) * sampleRateHz));
  const line = new Float32Array(Math.ceil(sampleRateHz / 20));
  for (const [idx, event] of playedEvents(sheet.notes, sheet.grid, bars).entries()) {
    const { note } = event;
    const midi = note.midi;
    const slurred = note.marks.some((m) => m === "hammer-on" || m === "pull-off" || m === "slide");
    const dead = note.marks.includes("dead");
    const touch = touchOf(note) * (slurred ? 0.55 : 1);
    const holdSec = Math.max(0.05, event.endSec - event.startSec);
    addPluck(
      out,
      sampleRateHz,
      {
        freqHz: 440 * 2 ** ((midi - 69) / 12),
        startIdx: Math.round(event.startSec * sampleRateHz),
        holdSec: note.marks.includes("let-ring") ? holdSec + 1 : holdSec,
        loudness: touch,
        brightness: slurred ? 0.25 : 0.35 + 0.35 * touch,
        pluckShare: note.marks.includes("harmonic") ? 0.5 : note.finger === "p" ? 0.21 : 0.16,
        t60Sec: dead ? 0.05 : ringSec(midi),
        seed: idx + 1,
      },
      line,
    );
  }
  addBody(out, sampleRateHz);
  scaleToPeak(out, PEAK);
  return out;
}

/** Time for an open string to fall by 60 dB: about 7 s on a low E, 3 s on a high one (from memory of steel strings). */
export const ringSec = (midi: number): number => 7 * 2 ** ((40 - midi) / 20);

function touchOf(note: SheetNote): number {
  const written = note.velocity === undefined ? 0.7 : 0.35 + 0.65 * note.velocity;
  return note.finger === "p" ? written * 1.05 : written;
}

/** Scales samples so that the largest is `peak`; silence stays. */
function scaleToPeak(samples: Float32Array, peak: number): void {
  let max = 0;
  for (let idx = 0; idx < samples.length; idx++) max = Math.max(max, Math.abs(samples[idx]!));
  if (max === 0) return;
  for (let idx = 0; idx < samples.length; idx++) samples[idx] = (samples[idx]! / max) * peak;
}
