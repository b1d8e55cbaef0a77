/** Is the recording at another pitch than the sheet: a capo not mentioned, a guitar tuned down, a sheet an octave off, one string retuned.
 * In: written pitches and heard ones. Out: candidate shifts, best first; the words for one; strings that sound elsewhere.
 * Method: the histogram of written pitches slid along that of the heard ones; the alignment decides between the best few. */
import type { Finding } from "../base/finding.js";
import type { Listening } from "../notes/played-note.js";
import type { Sheet } from "../sheet/sheet.js";
import { pitchClassName } from "../theory/pitch.js";
import { peakBetween } from "./evidence.js";

/** Shifts in semitones that are tried: what capos and slack tunings reach, and the octave of sheets written as they are read. */
const SHIFTS: readonly number[] = Object.freeze([
  0, 1, -1, 2, -2, 3, -3, 4, -4, 5, -5, 6, -6, 7, -7, 12, -12,
]);

const LIKELY = 0.85; // of the best likeness: less like shifts are not worth an alignment

/** The likeliest shifts, best first, 0 always among them.
 * @param count how many besides 0 */
export function likelyShifts(writtenMidis: readonly number[], listening: Listening, count = 2): number[] {
  const written = new Float64Array(160);
  const heard = new Float64Array(160);
  for (const midi of writtenMidis) written[midi] = (written[midi] ?? 0) + 1;
  for (const note of listening.notes) heard[note.midi] = (heard[note.midi] ?? 0) + note.confidence;
  const likeness = (shift: number): number => {
    let dot = 0;
    for (let midi = 0; midi < 160; midi++)
      dot += Math.sqrt((written[midi] as number) * (heard[midi + shift] ?? 0)); // Bhattacharyya 1943, up to scale
    return dot;
  };
  const ranked = SHIFTS.map((shift) => ({ shift, score: likeness(shift) })).sort(
    (a, b) => b.score - a.score || SHIFTS.indexOf(a.shift) - SHIFTS.indexOf(b.shift),
  );
  const least = LIKELY * (ranked[0]?.score ?? 0);
  const best = ranked
    .slice(0, count + 1)
    .filter((r) => r.score >= least)
    .map((r) => r.shift);
  return best.includes(0) ? best : [...best, 0];
}

const semitones = (n: number): string => `${n} semitone${n === 1 ? "" : "s"}`;

/** What a shift means in the trade's words; undefined for 0. */
export function shiftFinding(shift: number, sheet: Sheet): Finding | undefined {
  if (shift === 0) return undefined;
  const say = (message: string, hint: string): Finding => ({
    rule: "other-pitch",
    level: "warning",
    bar: 0,
    message,
    hint,
  });
  if (Math.abs(shift) === 12)
    return say(
      `The recording sounds an octave ${shift > 0 ? "above" : "below"} the sheet.`,
      "A guitar sounds an octave below its notation: read the sheet with that octave.",
    );
  if (shift > 0)
    return say(
      `The recording sounds ${semitones(shift)} above the sheet: a capo at fret ${sheet.capo + shift}?`,
      `The sheet says ${sheet.capo === 0 ? "no capo" : `capo ${sheet.capo}`}; write capo ${sheet.capo + shift} if so.`,
    );
  if (sheet.capo + shift >= 0)
    return say(
      `The recording sounds ${semitones(-shift)} below the sheet: ${sheet.capo + shift === 0 ? "no capo" : `capo at fret ${sheet.capo + shift}`}?`,
      `The sheet says capo ${sheet.capo}.`,
    );
  return say(
    `The recording sounds ${semitones(-shift)} below the sheet: a guitar tuned down by as much?`,
    "Write the tuning that was played into the sheet.",
  );
}

export type Retuned = { string: number; semitones: number };

/** Times and sounding pitches at which a string's notes are written. */
export type StringNote = { string: number; midi: number; sec: number };

/** Least notes a string must have before it is said to be tuned otherwise, and the share that must agree. */
const RETUNED = Object.freeze({ leastNotes: 4, share: 0.75, reachSec: 0.06, sureLogit: 0, absentLogit: -1 });

/** Strings whose notes are nearly all absent as written and present at one other distance, −5 … +3 semitones. */
export function retunedStrings(notes: readonly StringNote[], listening: Listening): Retuned[] {
  const found: Retuned[] = [];
  const logitAt = (midi: number, sec: number): number =>
    peakBetween(listening.evidence, midi, sec - RETUNED.reachSec, sec + RETUNED.reachSec)?.logit ?? -8;
  for (let string = 1; string <= 6; string++) {
    const own = notes.filter((n) => n.string === string);
    if (own.length < RETUNED.leastNotes) continue;
    const absent = own.filter((n) => logitAt(n.midi, n.sec) < RETUNED.absentLogit).length;
    if (absent < RETUNED.share * own.length) continue;
    for (const shift of [-2, -1, 1, 2, -3, 3, -4, -5]) {
      const there = own.filter((n) => logitAt(n.midi + shift, n.sec) > RETUNED.sureLogit).length;
      if (there >= RETUNED.share * own.length) {
        found.push({ string, semitones: shift });
        break;
      }
    }
  }
  return found;
}

/** A string tuned otherwise, said. */
export function retunedFinding(retuned: Retuned, sheet: Sheet): Finding {
  const open = sheet.openMidi[6 - retuned.string] ?? 0;
  const name = pitchClassName(open + retuned.semitones);
  const steps = Math.abs(retuned.semitones);
  return {
    rule: "string-retuned",
    level: "warning",
    bar: 0,
    message: `String ${retuned.string} sounds ${semitones(steps)} ${retuned.semitones < 0 ? "lower" : "higher"} than written throughout: tuned to ${name}?`,
    hint: "Write the tuning that was played into the sheet; its frets are compared as if it were there.",
  };
}
