/** The short text of a key or mode, as a teacher could read it aloud in a lesson. In: a guess. Out: plain lines. */
import { NO_CHORD } from "../theory/chord.js";
import { pitchClassOf } from "../theory/pitch.js";
import { isMinorMode } from "../theory/scale.js";
import type { ChordSpan, ModeGuess } from "./harmony.js";
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

/** Lines about a mode: what it is, why, what stays open, what to improvise with. @param subject of the first sentence */
function sayMode(guess: ModeGuess, subject: string): string[] {
  const lines: string[] = [];
  const open = guess.undecided[0];
  if (open) {
    const others = [...new Set(guess.undecided.flatMap((u) => u.between))].map((m) => `${guess.tonic} ${m}`);
    lines.push(
      `${subject} is ${others.slice(0, -1).join(", ")} or ${others.at(-1) ?? ""}: the music does not decide.`,
    );
  } else lines.push(`${subject} is ${sureness(guess.confidence)} ${modeTitle(guess)}.`);
  lines.push(...guess.evidence);
  const rival = guess.candidates[1];
  if (!open && rival && rival.probability > 0.15)
    lines.push(`It could also be heard as ${rival.tonic} ${rival.mode}.`);
  if (guess.usage === "pentatonic") {
    const scale = guess.improvise.find((name) => name.endsWith("pentatonic")) ?? "a pentatonic scale";
    lines.push(`Only five notes are used, those of ${scale}.`);
  }
  if (guess.usage === "blues") lines.push("The notes are those of the blues scale.");
  lines.push(`To improvise: ${listOf(guess.improvise)}.`);
  return lines;
}

/** The whole text of `key` for a recording, with a line break at the end. */
export function sayTrack(found: TrackKey): string {
  const isChanging = found.sections.length > 1;
  const lines = isChanging ? [sayChanges(found)] : [];
  lines.push(...sayMode(found, isChanging ? "The longest part" : "This"));
  if (isChanging)
    for (const s of found.sections)
      if (s.tonic !== found.tonic || s.mode !== found.mode)
        lines.push(`From ${clock(s.startSec)}, to improvise: ${listOf(s.improvise)}.`);
  const round = loopOf(found.chords);
  if (round) lines.push(`The chords go round and round: ${round.join(", ")}.`);
  const cents = Math.round(found.tuningCents);
  if (Math.abs(cents) >= 4)
    lines.push(
      `The recording is ${Math.abs(cents)} cents ${cents > 0 ? "sharp" : "flat"} of A 440: tune to it before playing along.`,
    );
  else lines.push("The recording is in tune with A 440.");
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

/** Where the key changes, and to what. */
function sayChanges({ sections }: TrackKey): string {
  const parts = sections.map((s, k) => {
    const doubt = s.confidence < SURE_SECTION ? `, ${sureness(s.confidence)}` : "";
    return `${s.tonic} ${s.mode} ${k === 0 ? "at first" : `from ${clock(s.startSec)}`}${doubt}`;
  });
  return `The key changes: ${parts.join(", ")}.`;
}

/** Sections at least so sure are said without a word of doubt. */
const SURE_SECTION = 0.9;

const LOOP_DEFAULTS = {
  mostChords: 8, // a longer round is a form, not a loop
  leastRounds: 3, // fewer rounds are no loop
  share: 0.9, // so many chords are those of the round before; one in ten may be misheard
} as const;

/** The chords of a loop that a recording goes through again and again, each by the name it has longest; undefined when there is none. */
function loopOf(chords: readonly ChordSpan[]): string[] | undefined {
  const o = LOOP_DEFAULTS;
  const voiced = chords.filter((c) => c.root !== "");
  const spans = voiced.filter((c, k) => c.root !== voiced[k - 1]?.root);
  for (let size = 2; size <= o.mostChords && size * o.leastRounds <= spans.length; size++) {
    const same = spans.filter((c, k) => k >= size && c.root === spans[k - size]?.root).length;
    if (same < o.share * (spans.length - size)) continue;
    return Array.from({ length: size }, (_, at) => {
      const secs = new Map<string, number>();
      for (const c of spans.filter((_, k) => k % size === at))
        secs.set(c.symbol, (secs.get(c.symbol) ?? 0) + c.endSec - c.startSec);
      return [...secs].reduce((a, b) => (b[1] > a[1] ? b : a), ["", 0] as [string, number])[0];
    });
  }
  return undefined;
}

/** Minutes and seconds, "1:05". */
function clock(sec: number): string {
  const whole = Math.round(sec);
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}
