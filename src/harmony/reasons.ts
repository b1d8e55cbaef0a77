/** The reasons for a mode in sentences a teacher can read aloud, strongest first. In: evidence, chords, the key. Out: text.
 * Every sentence says what sounds or does not sound; none is said that the evidence does not hold. */
import { mod } from "../base/numbers.js";
import { chordPitchClasses, NO_CHORD } from "../theory/chord.js";
import { pitchClassOf } from "../theory/pitch.js";
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
  const percent = (x: number): string => `${Math.round(100 * x)} %`;
  if (at(e.held) > 0.3)
    out.push(
      `The bass holds ${key.tonic} under changing chords for ${percent(at(e.held))} of the time: a held bass makes its note home.`,
    );
  else if (at(e.bass) > 0.25)
    out.push(`${key.tonic} is the lowest note for ${percent(at(e.bass))} of the time.`);
  const starts = at(e.first) >= 0.4;
  const ends = at(e.last) >= 0.4;
  if (starts && ends) out.push(`It starts and ends on ${key.tonic}.`);
  else if (starts) out.push(`It starts on ${key.tonic}.`);
  else if (ends) out.push(`It ends on ${key.tonic}.`);
  if (at(e.root) > 0.2) out.push(`Chords on ${key.tonic} take ${percent(at(e.root))} of the time.`);
  const third = isMinorMode(key.mode) ? "b3" : "3";
  const open = new Set(undecided.map((u) => u.missingDegree));
  if (!open.has(third)) pushCarrier(out, chords, key, third, e);
  for (const [own, plain] of differsFromPlain(key.mode)) {
    if (open.has(own)) continue;
    const carriers = carriersOf(chords, degreeNote(key.tonic, own));
    const note = degreeNote(key.tonic, own);
    const plainNote = degreeNote(key.tonic, plain);
    const plainName = isMinorMode(key.mode) ? "minor" : "major";
    if (presenceOf(e, own, key) < 0.5) continue;
    const brings =
      carriers.length > 0
        ? `${listOf(carriers)} ${carriers.length === 1 ? "brings" : "bring"} ${note}`
        : `${note} sounds in the tune`;
    const absent =
      presenceOf(e, plain, key) < 0.5 ? `; ${plainNote} of plain ${plainName} does not sound` : "";
    out.push(`${brings}, the ${ORDINAL[own] ?? own}, where plain ${plainName} has ${plainNote}${absent}.`);
  }
  if (differsFromPlain(key.mode).length === 0)
    for (const degree of isMinorMode(key.mode) ? ["b6", "b7"] : ["4", "7"])
      if (!open.has(degree)) pushCarrier(out, chords, key, degree, e);
  for (const u of undecided) {
    const mine = degreeNote(key.tonic, u.missingDegree);
    const other = otherForm(key, u);
    out.push(
      `Not decided: ${key.tonic} ${u.between[0]} or ${key.tonic} ${u.between[1]}. The degree that parts them, ${mine}${other ? ` or ${other}` : ""}, does not clearly sound.`,
    );
  }
  if (key.mode !== "ionian" && !key.mode.includes(" "))
    out.push(`The notes are those of ${parentScale(key.tonic, key.mode)}, with ${key.tonic} as home.`);
  return out;
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
  const carriers = carriersOf(chords, note);
  if (carriers.length > 0)
    out.push(
      `${listOf(carriers)} ${carriers.length === 1 ? "brings" : "bring"} ${note}, the ${ORDINAL[degree] ?? degree}.`,
    );
}

/** Up to three chord symbols that hold a note, by the time they last. */
function carriersOf(chords: readonly ChordSpan[], note: string): string[] {
  const pc = pitchClassOf(note);
  const secs = new Map<string, number>();
  for (const c of chords)
    if (c.symbol !== NO_CHORD && pc !== undefined && chordPitchClasses(c.symbol).includes(pc))
      secs.set(c.symbol, (secs.get(c.symbol) ?? 0) + c.endSec - c.startSec);
  return [...secs]
    .sort((a, b) => b[1] - a[1] || (a[0] < b[0] ? -1 : 1))
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
 * A pentatonic is named only where every one of its notes belongs to the mode. */
export function improviseWith(
  e: HomeEvidence,
  key: Named,
): { improvise: string[]; usage?: "pentatonic" | "blues" } {
  const t = pitchClassOf(key.tonic) ?? 0;
  const sounding = e.presence.flatMap((p, pc) => (p >= 0.5 ? [mod(pc - t, 12)] : []));
  const within = (steps: readonly number[]): boolean => sounding.every((s) => steps.includes(s));
  const modeSteps = modeDegrees(key.mode).map(stepOfDegree);
  const fits = PENTATONICS.filter((p) => p.name !== "blues" && p.steps.every((s) => modeSteps.includes(s)));
  const improvise = [`${key.tonic} ${key.mode}`, ...fits.map((p) => `${key.tonic} ${p.name}`)];
  const isBlues = sounding.includes(6) && sounding.includes(7) && within([0, 3, 5, 6, 7, 10]);
  const isPentatonic = sounding.length >= 3 && PENTATONICS.some((p) => p.name !== "blues" && within(p.steps));
  // Both thirds over a dominant seventh: the blues scale is what players reach for.
  const isBluesy = [3, 4, 10].every((s) => sounding.includes(s)) && !key.mode.includes(" ");
  if (isBlues || isBluesy) improvise.push(`${key.tonic} blues`);
  if (isBlues) return { improvise, usage: "blues" };
  return isPentatonic ? { improvise, usage: "pentatonic" } : { improvise };
}
