/** The reasons for a mode in sentences a teacher can read aloud, strongest first. In: evidence, chords, the key. Out: text.
 * Every sentence says what sounds or does not sound; none is said that the evidence does not hold. */
import { mod } from "../base/numbers.js";
import { chordPitchClasses, NO_CHORD } from "../theory/chord.js";
import { pitchClassName, pitchClassOf } from "../theory/pitch.js";
import { degreeNote, differsFromPlain, isMinorMode, modeRow, parentScale } from "../theory/scale.js";
import { PENTATONICS, stepOfDegree } from "../theory/scale-table.js";
import type { HomeEvidence } from "./evidence.js";
import type { ChordSpan, ModeName, Undecided } from "./harmony.js";

const ORDINAL: Readonly<Record<string, string>> = {
  "1": "first",
  b2: "flat second",
  "2": "second",
  b3: "minor third",
  "3": "major third",
  "4": "fourth",
  "#4": "raised fourth",
  b5: "flat fifth",
  "5": "fifth",
  b6: "minor sixth",
  "6": "major sixth",
  b7: "flat seventh",
  "7": "major seventh",
};

type Named = { tonic: string; mode: ModeName };

/** @param chords spelled for the key */
export function modeReasons(
  e: HomeEvidence,
  chords: readonly ChordSpan[],
  key: Named,
  undecided: readonly Undecided[],
): string[] {
  const t = pitchClassOf(key.tonic) ?? 0;
  const at = (x: readonly number[]): number => x[t] ?? 0;
  const out: string[] = [];
  if (at(e.held) > 0.3)
    out.push(
      `The bass holds ${key.tonic} under changing chords ${ofTheTime(at(e.held))}: a held bass makes its note home.`,
    );
  else if (at(e.bass) > 0.25) out.push(`${key.tonic} is in the bass ${ofTheTime(at(e.bass))}.`);
  const starts = at(e.first) >= 0.4;
  const ends = at(e.last) >= 0.4;
  if (starts && ends) out.push(`It starts and ends on ${key.tonic}.`);
  else if (starts) out.push(`It starts on ${key.tonic}.`);
  else if (ends) out.push(`It ends on ${key.tonic}.`);
  if (at(e.root) > 0.2) out.push(`The chord on ${key.tonic} sounds ${ofTheTime(at(e.root))}.`);
  const third = isMinorMode(key.mode) ? "b3" : "3";
  const open = new Set(undecided.map((u) => u.missingDegree));
  if (!open.has(third)) pushCarrier(out, chords, key, third, e);
  for (const [own, plain] of differsFromPlain(key.mode)) {
    if (open.has(own)) continue;
    const carriers = carriersOf(chords, degreeNote(key.tonic, own), e);
    const note = degreeNote(key.tonic, own);
    const plainNote = degreeNote(key.tonic, plain);
    const plainName = isMinorMode(key.mode) ? "minor" : "major";
    if (presenceOf(e, own, key) < 0.5) continue;
    const brings =
      carriers.length > 0
        ? `${listOf(carriers)} ${carriers.length === 1 ? "brings" : "bring"} ${note}`
        : `The tune brings ${note}`;
    const absent = presenceOf(e, plain, key) < 0.5 ? ", which never sounds" : "";
    out.push(
      `${brings}, the ${ORDINAL[own] ?? own}, where plain ${plainName} has ${plainWord(plainNote)}${absent}.`,
    );
  }
  if (differsFromPlain(key.mode).length === 0)
    for (const degree of isMinorMode(key.mode) ? ["b6", "b7"] : ["4", "7"])
      if (!open.has(degree)) pushCarrier(out, chords, key, degree, e);
  for (const u of undecided) out.push(openReason(e, key, u));
  if (undecided.length === 0 && key.mode !== "ionian" && !key.mode.includes(" "))
    out.push(`The notes are those of ${parentScale(key.tonic, key.mode)}, with ${key.tonic} as home.`);
  return out;
}

/** A note as it is read, with the name of its key on the piano where that is another: "E# (F)". */
function plainWord(note: string): string {
  const isOdd = note.length > 2 || ["E#", "B#", "Cb", "Fb"].includes(note);
  return isOdd ? `${note} (${pitchClassName(pitchClassOf(note) ?? 0)})` : note;
}

/** A share of time as a teacher would say it. @param share 0…1 */
export function ofTheTime(share: number): string {
  if (share >= 0.97) return "all the time";
  if (share >= 0.85) return "nearly all the time";
  if (share >= 0.6) return "most of the time";
  if (share >= 0.42) return "about half of the time";
  return share >= 0.29 ? "about a third of the time" : "about a quarter of the time";
}

/** Why two modes stay open: the note that would part them does not sound, or both its forms do, or it is not clear. */
function openReason(e: HomeEvidence, key: Named, u: Undecided): string {
  const mine = degreeNote(key.tonic, u.missingDegree);
  const other = otherForm(key, u);
  const number = ORDINAL[u.missingDegree.replace(/[b#]/g, "")]?.split(" ").at(-1) ?? "degree";
  const sounds = (note: string): boolean => (e.presence[pitchClassOf(note) ?? 0] ?? 0) >= 0.5;
  const between = `Not decided between ${key.tonic} ${u.between[0]} and ${key.tonic} ${u.between[1]}`;
  if (sounds(mine) && sounds(other)) return `${between}: of the ${number}, both ${mine} and ${other} sound.`;
  if (sounds(mine) || sounds(other))
    return `${between}: the ${number} would decide, and whether it is ${mine} or ${other} is not clear.`;
  return `${between}: the ${number} would decide, and neither ${mine} nor ${other} clearly sounds.`;
}

function presenceOf(e: HomeEvidence, degree: string, key: Named): number {
  return e.presence[mod((pitchClassOf(key.tonic) ?? 0) + stepOfDegree(degree), 12)] ?? 0;
}

function pushCarrier(
  out: string[],
  chords: readonly ChordSpan[],
  key: Named,
  degree: string,
  e: HomeEvidence,
): void {
  if (presenceOf(e, degree, key) < 0.5) return;
  const note = degreeNote(key.tonic, degree);
  const carriers = carriersOf(chords, note, e);
  if (carriers.length > 0)
    out.push(
      `${listOf(carriers)} ${carriers.length === 1 ? "brings" : "bring"} ${note}, the ${ORDINAL[degree] ?? degree}.`,
    );
}

/** A chord that sounds for less than this share of the longest one that holds the note is not named: it may be misheard. */
const CARRIER_SHARE = 0.2;

/** Up to three chord symbols that hold a note, by the time they last; only chords all of whose notes surely sound. */
function carriersOf(chords: readonly ChordSpan[], note: string, e: HomeEvidence): string[] {
  const pc = pitchClassOf(note);
  const secs = new Map<string, number>();
  const isSure = (symbol: string): boolean => {
    const pcs = chordPitchClasses(symbol);
    return pc !== undefined && pcs.includes(pc) && pcs.every((p) => (e.presence[p] ?? 0) >= 0.5);
  };
  for (const c of chords)
    if (c.symbol !== NO_CHORD && isSure(c.symbol))
      secs.set(c.symbol, (secs.get(c.symbol) ?? 0) + c.endSec - c.startSec);
  const ranked = [...secs].sort((a, b) => b[1] - a[1] || (a[0] < b[0] ? -1 : 1));
  return ranked
    .filter(([, sec]) => sec >= CARRIER_SHARE * (ranked[0]?.[1] ?? 0))
    .slice(0, 3)
    .map(([symbol]) => symbol);
}

/** "A, B and C". */
export function listOf(words: readonly string[]): string {
  if (words.length < 2) return words.join("");
  return `${words.slice(0, -1).join(", ")} and ${words.at(-1) ?? ""}`;
}

/** The note of the deciding degree as the other mode of the pair has it. */
function otherForm(key: Named, u: Undecided): string {
  const other = u.between[0] === key.mode ? u.between[1] : u.between[0];
  const letterDegree = u.missingDegree.replace(/[b#]/g, "");
  const found = differingDegree(other, letterDegree);
  return found ? degreeNote(key.tonic, found) : "";
}

function differingDegree(mode: ModeName, number: string): string | undefined {
  return modeDegrees(mode).find((d) => d.replace(/[b#]/g, "") === number);
}

const modeDegrees = (mode: ModeName): string[] => modeRow(mode).degrees.map(([, degree]) => degree);

/** Scales to improvise with, best first, and how few notes the music itself uses.
 * A pentatonic is named only where every one of its notes belongs to the mode; where modes stay open, those that fit all of them come first. */
export function improviseWith(
  e: HomeEvidence,
  key: Named,
  undecided: readonly Undecided[] = [],
): { improvise: string[]; usage?: "pentatonic" | "blues" } {
  const t = pitchClassOf(key.tonic) ?? 0;
  const sounding = e.presence.flatMap((p, pc) => (p >= 0.5 ? [mod(pc - t, 12)] : []));
  const within = (steps: readonly number[]): boolean => sounding.every((s) => steps.includes(s));
  const modes = [...new Set([key.mode, ...undecided.flatMap((u) => u.between)])];
  const fits = PENTATONICS.filter(
    (p) =>
      p.name !== "blues" &&
      modes.every((mode) => p.steps.every((s) => modeDegrees(mode).map(stepOfDegree).includes(s))),
  );
  const five = fits.map((p) => `${key.tonic} ${p.name}`);
  const seven = modes.map((mode) => `${key.tonic} ${mode}`);
  const improvise = modes.length > 1 ? [...five, ...seven] : [...seven, ...five];
  const isBlues = sounding.includes(6) && sounding.includes(7) && within([0, 3, 5, 6, 7, 10]);
  const isPentatonic = sounding.length >= 3 && PENTATONICS.some((p) => p.name !== "blues" && within(p.steps));
  // Both thirds over a dominant seventh: the blues scale is what players reach for.
  const isBluesy = [3, 4, 10].every((s) => sounding.includes(s)) && !key.mode.includes(" ");
  if (isBlues || isBluesy) improvise.push(`${key.tonic} blues`);
  if (isBlues) return { improvise, usage: "blues" };
  return isPentatonic ? { improvise, usage: "pentatonic" } : { improvise };
}
