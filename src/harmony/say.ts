/** The short text of a key or mode, as a teacher could read it aloud in a lesson. In: a guess. Out: plain lines. */
import { NO_CHORD } from "../theory/chord.js";
import { pitchClassOf } from "../theory/pitch.js";
import { isMinorMode } from "../theory/scale.js";
import type { ModeGuess } from "./harmony.js";
import { listOf } from "./reasons.js";
import type { TrackKey } from "./track.js";

/** How sure, in words. A probability is not read aloud. */
function sureness(confidence: number): string {
  if (confidence >= 0.9) return "clearly";
  if (confidence >= 0.7) return "very likely";
  return confidence >= 0.45 ? "most likely" : "perhaps";
}

/** Plain name with a gloss: "A mixolydian" , "C ionian, plain major". */
function modeTitle(guess: Pick<ModeGuess, "tonic" | "mode">): string {
  const plain = guess.mode === "ionian" ? ", plain major" : guess.mode === "aeolian" ? ", plain minor" : "";
  return `${guess.tonic} ${guess.mode}${plain}`;
}

/** Lines about a mode: what it is, why, what stays open, what to improvise with. */
function sayMode(guess: ModeGuess): string[] {
  const lines: string[] = [];
  const open = guess.undecided[0];
  if (open) {
    const others = [...new Set(guess.undecided.flatMap((u) => u.between))].map((m) => `${guess.tonic} ${m}`);
    lines.push(
      `This is ${others.slice(0, -1).join(", ")} or ${others.at(-1) ?? ""}: the music does not decide.`,
    );
  } else lines.push(`This is ${sureness(guess.confidence)} ${modeTitle(guess)}.`);
  lines.push(...guess.evidence);
  const rival = guess.candidates[1];
  if (!open && rival && rival.probability > 0.15)
    lines.push(`It could also be heard as ${rival.tonic} ${rival.mode}.`);
  if (guess.usage === "pentatonic") lines.push("Only five notes are used, those of a pentatonic scale.");
  if (guess.usage === "blues") lines.push("The notes are those of the blues scale.");
  lines.push(`To improvise: ${listOf(guess.improvise)}.`);
  return lines;
}

/** The whole text of `key` for a recording, with a line break at the end. */
export function sayTrack(found: TrackKey): string {
  const lines = sayMode(found);
  const cents = Math.round(found.tuningCents);
  if (Math.abs(cents) >= 4)
    lines.push(
      `The recording is ${Math.abs(cents)} cents ${cents > 0 ? "sharp" : "flat"} of A 440: tune to it before playing along.`,
    );
  else lines.push("The recording is in tune with A 440.");
  if (found.sections.length > 1)
    for (const s of found.sections)
      lines.push(
        `${clock(s.startSec)} to ${clock(s.endSec)}: ${s.tonic} ${s.mode}, ${sureness(s.confidence)}.`,
      );
  const chart = found.chords.filter((c) => c.symbol !== NO_CHORD);
  if (chart.length > 0) {
    lines.push("", "Chords:");
    for (let k = 0; k < chart.length; k += 8)
      lines.push(
        chart
          .slice(k, k + 8)
          .map((c) => `${clock(c.startSec)} ${c.symbol}`)
          .join("   "),
      );
  }
  if (found.vote) {
    const isSame =
      pitchClassOf(found.vote.key) === pitchClassOf(found.tonic) &&
      (found.vote.scale === "minor") === isMinorMode(found.mode);
    if (!isSame) lines.push("", `A general key finder hears ${found.vote.key} ${found.vote.scale}.`);
  }
  return `${lines.join("\n")}\n`;
}

/** Minutes and seconds, "1:05". */
function clock(sec: number): string {
  const whole = Math.round(sec);
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}
