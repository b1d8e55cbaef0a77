/** Which chord the voices of a stretch make, as a player would name it. In: voices over each possible bass, what is known of the take.
 * Out: readings, best first. Method: every root, quality and bass gets a sum of weighted features (a log-linear model, so that scores
 * are log odds): what the chord leaves over and lacks, by voice, what its bass is, what the take uses elsewhere, how plain its name is.
 * A tune over the chord may leave it; an inner voice may not. Cannot: tell chords apart whose missing note sounds nowhere. */
import { mod } from "../base/numbers.js";
import { CHORDS, type ChordRow } from "../theory/chord-table.js";
import type { Voices } from "./chord-voices.js";
import { CHORD_WEIGHTS, type ChordFeature } from "./chord-weight-table.js";

/** @property probability among all readings of the stretch @property score log odds, no unit */
export type ChordReading = {
  rootPc: number;
  quality: string;
  bassPc: number;
  score: number;
  probability: number;
};

/** What is known of the take. @property presence probability that each pitch class belongs to it, shape (12) @property bassUse share of
 * bars over each bass, shape (12) @property melodic 0…1, see melodicShare @property tonicPc home, when a first pass has found it
 * @property used shares of the take, 0…1, that are surely this chord, its triad, this chord over this bass */
export type ChordContext = {
  presence: readonly number[];
  bassUse: readonly number[];
  melodic: number;
  tonicPc?: number;
  cutShare: number;
  used?: (rootPc: number, row: ChordRow, bassPc: number) => readonly [number, number, number];
};

/** Nothing known of the rest of the take. */
export const NO_CONTEXT: ChordContext = {
  presence: new Array<number>(12).fill(0),
  bassUse: new Array<number>(12).fill(0),
  melodic: 0,
  cutShare: 0,
};

const CHORD_FIT_DEFAULTS = {
  present: 0.046, // share of the weight from which a chord note counts as sounding
  counted: 0.1, // share from which a note outside the chord counts fully
  pedalShare: 0.6, // a bass under so many bars is a pedal
} as const;

export const CHORD_FEATURES = Object.keys(CHORD_WEIGHTS) as ChordFeature[];
/** Where each feature lies in a row of them: numbers, since looking a name up took half of the time of naming the chords. */
const AT = Object.fromEntries(CHORD_FEATURES.map((name, k) => [name, k])) as Record<ChordFeature, number>;
const WEIGHTS = Float64Array.from(Object.values(CHORD_WEIGHTS));

/** Readings of a stretch of music, best first; at most `limit`. */
export function readChord(
  voices: readonly Voices[],
  context: ChordContext = NO_CONTEXT,
  limit = 4,
  weights: Float64Array = WEIGHTS,
): ChordReading[] {
  const readings: ChordReading[] = [];
  const x = new Float64Array(CHORD_FEATURES.length);
  for (const v of voices)
    for (const { rootPc, row } of candidates(v)) {
      chordFeatures(v, rootPc, row, context, x);
      let score = 0;
      for (let k = 0; k < x.length; k++) score += (x[k] ?? 0) * (weights[k] ?? 0);
      readings.push({ rootPc, quality: row.suffix, bassPc: v.bass.pc, score, probability: 0 });
    }
  readings.sort((a, b) => b.score - a.score || a.rootPc - b.rootPc || (a.quality < b.quality ? -1 : 1));
  const top = readings[0]?.score ?? 0;
  const total = readings.reduce((sum, r) => sum + Math.exp(r.score - top), 0);
  for (const r of readings) r.probability = Math.exp(r.score - top) / total;
  return readings.slice(0, limit);
}

/** Chords on every note that sounds. */
export function candidates(v: Voices): { rootPc: number; row: ChordRow }[] {
  const sounds = (pc: number): boolean =>
    pc === v.bass.pc || (v.inner[pc] ?? 0) + (v.top[pc] ?? 0) + (v.low[pc] ?? 0) > 0;
  const roots = Array.from({ length: 12 }, (_, pc) => pc).filter(sounds);
  return roots.flatMap((rootPc) => CHORDS.map((row) => ({ rootPc, row })));
}

type Part = "root" | "third" | "fifth" | "seventh" | "other";

/** What a note of a chord is, by its place over the root. */
function partOf(step: number, row: ChordRow): Part {
  if (step === 0) return "root";
  if (step === 3 || step === 4) return "third";
  if (step >= 6 && step <= 8) return "fifth";
  if (step === 10 || step === 11 || (step === 9 && row.suffix === "dim7")) return "seventh";
  return "other";
}

/** What is looked up for every reading: the parts of the chord's notes, and which steps over the root it holds, shape (12). */
const LOOKUP = new Map(
  CHORDS.map((row) => [
    row,
    {
      parts: row.steps.map((step) => partOf(step, row)),
      holds: Array.from({ length: 12 }, (_, step) => row.steps.includes(step)),
    },
  ]),
);

/** Fills `x`, in the order of CHORD_FEATURES, for a chord over the bass of `v`. */
export function chordFeatures(
  v: Voices,
  rootPc: number,
  row: ChordRow,
  context: ChordContext,
  x: Float64Array,
): void {
  x.fill(0);
  const add = (at: number, value: number): void => {
    x[at] = (x[at] ?? 0) + value;
  };
  leftOver(v, rootPc, row, context, add);
  ofNotes(v, rootPc, row, context, add);
  ofBass(v, rootPc, row, context, add);
  ofName(rootPc, row, context, add);
}

type Add = (at: number, value: number) => void;

function leftOver(v: Voices, rootPc: number, row: ChordRow, context: ChordContext, add: Add): void {
  const { counted } = CHORD_FIT_DEFAULTS;
  const holds = LOOKUP.get(row)?.holds ?? [];
  for (let pc = 0; pc < 12; pc++) {
    if (holds[(pc - rootPc + 12) % 12]) continue;
    const inner = v.inner[pc] ?? 0;
    const low = v.low[pc] ?? 0;
    const top = v.top[pc] ?? 0;
    if (inner + low + top === 0) continue;
    if (pc === v.bass.pc) {
      add(AT.outBassNote, inner);
      add(AT.outBassNoteCount, Math.min(1, inner / counted));
      continue;
    }
    add(AT.outInner, inner);
    add(AT.outLow, low);
    add(AT.outInnerCount, Math.min(1, (inner + low) / counted));
    add(AT.outTop, top);
    add(AT.outTopMelodic, context.melodic * top);
    const topCount = Math.min(1, top / counted);
    add(AT.outTopCount, topCount);
    add(AT.outTopCountMelodic, context.melodic * topCount);
  }
}

function ofNotes(v: Voices, rootPc: number, row: ChordRow, context: ChordContext, add: Add): void {
  const { present } = CHORD_FIT_DEFAULTS;
  const parts = LOOKUP.get(row)?.parts ?? [];
  row.steps.forEach((step, k) => {
    const pc = mod(rootPc + step, 12);
    const part = parts[k];
    const under = (v.inner[pc] ?? 0) + (v.low[pc] ?? 0);
    const heard = Math.min(1, (under + (v.top[pc] ?? 0)) / present);
    const lack = 1 - heard;
    if (pc === v.bass.pc && lack > 0) {
      if (part === "third") add(AT.bassThird, lack);
      else if (part === "fifth") add(AT.bassFifth, lack);
      else if (part !== "root") add(AT.bassOther, lack);
      return;
    }
    const onlyTop = heard - Math.min(1, under / present);
    const tune = context.melodic * onlyTop;
    if (part === "root") {
      add(AT.lackRoot, lack);
      add(AT.topRoot, onlyTop);
      if ((v.low[pc] ?? 0) > 0) add(AT.rootInLowVoice, 1);
    } else if (part === "third") {
      add(AT.lackThird, lack);
      add(AT.topThirdMelodic, tune);
      add(AT.unknownThird, lack * (1 - (context.presence[pc] ?? 0)));
    } else if (part === "fifth") {
      add(row.optional.includes(step) ? AT.lackOptionalFifth : AT.lackFifth, lack);
      add(AT.topFifthMelodic, tune);
    } else if (part === "seventh") {
      add(AT.lackSeventh, lack);
      add(AT.topSeventh, onlyTop);
      add(AT.topSeventhMelodic, tune);
    } else {
      add(AT.lackOther, lack);
      add(AT.topOther, onlyTop);
      add(AT.topOtherMelodic, tune);
    }
  });
}

function ofBass(v: Voices, rootPc: number, row: ChordRow, context: ChordContext, add: Add): void {
  const { bass } = v;
  const use = context.bassUse[bass.pc] ?? 0;
  const isPedal = use > CHORD_FIT_DEFAULTS.pedalShare ? 1 : 0;
  const step = mod(bass.pc - rootPc, 12);
  if (step !== 0 && row.steps.includes(step)) {
    add(step === 3 || step === 4 ? AT.invThird : step >= 6 && step <= 8 ? AT.invFifth : AT.invOther, 1);
    add(AT.invPedal, isPedal);
  } else if (step !== 0) {
    add(AT.foreign, 1);
    add(AT.foreignUsed, use);
    add(AT.foreignPedal, isPedal);
  }
  add(AT.lowFirst, bass.isFirst ? 1 : 0);
  add(AT.lowShare, bass.share);
  add(AT.lowHeld, bass.isHeld ? 1 : 0);
  add(AT.lowHeight, bass.height);
  add(AT.lowUsed, use);
  const [exact, triad, overBass] = context.used?.(rootPc, row, bass.pc) ?? [0, 0, 0];
  add(AT.usedExact, exact);
  add(AT.usedTriad, triad);
  add(AT.usedOverBass, overBass);
}

// Degree by semitones over the tonic; the second has no flat form that is common, nor the fifth.
const DEGREES: readonly (ChordFeature | undefined)[] = [
  "degreeHome",
  undefined,
  "degreeSecond",
  "degreeThird",
  "degreeThird",
  "degreeFourth",
  undefined,
  "degreeFifth",
  "degreeSixth",
  "degreeSixth",
  "degreeSeventh",
  "degreeSeventh",
];
const SEVENTHS: ReadonlySet<string> = new Set(["7", "m7", "maj7", "m7b5"]);

function ofName(rootPc: number, row: ChordRow, context: ChordContext, add: Add): void {
  const presence = (step: number): number => context.presence[mod(rootPc + step, 12)] ?? 0;
  const thirdKnown = Math.min(1, presence(3) + presence(4));
  add(AT.plain, -row.cost);
  if (row.suffix === "") add(AT.isMajor, 1);
  else if (row.suffix === "m") add(AT.isMinor, 1);
  else if (SEVENTHS.has(row.suffix)) add(AT.isSeventh, 1);
  else if (row.suffix.includes("sus")) {
    add(AT.isSus, 1);
    add(AT.susThirdKnown, thirdKnown);
  } else if (row.suffix.includes("add")) add(AT.isAdd, 1);
  else if (row.suffix === "5") {
    add(AT.isPower, 1);
    add(AT.powerThirdKnown, thirdKnown);
  }
  const degree = context.tonicPc === undefined ? undefined : DEGREES[mod(rootPc - context.tonicPc, 12)];
  if (degree) add(AT[degree], 1);
}
