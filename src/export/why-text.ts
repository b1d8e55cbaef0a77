/** The short paragraph "Why this is in …": what makes the tonic home and which degree decides the mode, said from the sheet's own notes and chords. */
import type { ModeGuess, ModeName, Undecided } from "../harmony/harmony.js";
import type { Sheet, SheetChord } from "../sheet/sheet.js";
import { chordPitchClasses } from "../theory/chord.js";
import { pitchClassOf } from "../theory/pitch.js";
import { degreeNote, modeRow, parentScale } from "../theory/scale.js";
import { MODE_RIVALS } from "./mode-rival-table.js";

const ORDINALS = ["", "first", "second", "third", "fourth", "fifth", "sixth", "seventh"];

/** "4, 5 and 8–10": a list of bars as it is read. */
export function barList(bars: readonly number[]): string {
  const sorted = [...new Set(bars)].sort((a, b) => a - b);
  const runs: string[] = [];
  let start = sorted[0];
  for (const [idx, bar] of sorted.entries()) {
    const next = sorted[idx + 1];
    if (next === bar + 1 || start === undefined) continue;
    if (start === bar) runs.push(`${bar}`);
    else if (bar === start + 1) runs.push(`${start}`, `${bar}`);
    else runs.push(`${start}–${bar}`);
    start = next;
  }
  const last = runs.pop();
  return runs.length === 0 ? (last ?? "") : `${runs.join(", ")} and ${last}`;
}

/** Sentences, ASCII note names ("F#", "b7") that the page prints with signs; [] for a sheet without a mode. */
export function whySentences(sheet: Sheet): string[] {
  const guess = sheet.mode;
  if (!guess) return [];
  const open = guess.undecided[0];
  const sentences = [homeSentence(sheet, guess)];
  if (open) sentences.push(openSentence(guess.tonic, open));
  else {
    sentences.push(decidingSentence(sheet, guess));
    if (sentences.filter(Boolean).length < 2) sentences.push(...guess.evidence.slice(0, 2));
    sentences.push(parentSentence(guess.tonic, guess.mode));
  }
  return sentences.filter((s) => s !== "");
}

/** What makes the tonic home; "" where nothing plain does. */
function homeSentence(sheet: Sheet, { tonic }: ModeGuess): string {
  const tonicPc = pitchClassOf(tonic);
  const chords = sheet.chords.filter((c) => c.root !== "");
  const held = chords.filter((c) => pitchClassOf(c.bass || c.root) === tonicPc);
  if (chords.length > 1 && held.length === chords.length)
    return `Every chord stands over ${tonic}: the held bass makes ${tonic} home.`;
  if (chords.length > 1 && held.length * 2 >= chords.length)
    return `${tonic} is in the bass under ${held.length} of ${chords.length} chords, and that makes it home.`;
  const isHome = (c: SheetChord | undefined): boolean => c !== undefined && pitchClassOf(c.root) === tonicPc;
  const [begins, ends] = [isHome(chords[0]), isHome(chords.at(-1))];
  if (begins && ends) return `The study begins and ends on ${tonic}, its home.`;
  if (ends) return `The study comes to rest on ${tonic}, its home.`;
  const opened = sheet.form.filter((part) => isHome(chords.findLast((c) => c.bar <= (part.bars[0] ?? 0))));
  if (begins && opened.length > 1 && opened.length * 2 >= sheet.form.length)
    return `${tonic} opens ${opened.length === sheet.form.length ? "every section" : `${opened.length} of the ${sheet.form.length} sections`}, and that makes it home.`;
  return begins ? `The study begins on ${tonic} and is heard from there.` : "";
}

/** Which degree decides, where it sounds and what its rival does; "" where it does not sound. */
function decidingSentence(sheet: Sheet, { tonic, mode }: ModeGuess): string {
  const { degree: number, neighbour } = MODE_RIVALS[mode];
  const deciding = modeRow(mode).degrees[number - 1];
  const rival = modeRow(neighbour).degrees[number - 1];
  if (!deciding || !rival) return "";
  const [semitones, degree] = deciding;
  const [note, rivalNote] = [degreeNote(tonic, degree), degreeNote(tonic, rival[1])];
  const barsWith = (steps: number): number[] => {
    const pc = ((pitchClassOf(tonic) ?? 0) + steps) % 12;
    return [...new Set(sheet.notes.filter((n) => n.midi % 12 === pc).map((n) => n.bar))];
  };
  const bars = barsWith(semitones);
  if (bars.length === 0) return "";
  const rivalBars = barsWith(rival[0]);
  const carriers = [
    ...new Set(
      sheet.chords
        .filter((c) => bars.includes(c.bar) && chordPitchClasses(c.symbol).includes(pitchClassOf(note) ?? -1))
        .map((c) => c.symbol),
    ),
  ].slice(0, 3);
  const under = carriers.length > 0 ? `, under ${andList(carriers)}` : "";
  return (
    `The ${ORDINALS[number]} degree decides: it is ${note} (${degree}), where ${tonic} ${neighbour} would have ${rivalNote}. ` +
    `${note} sounds in ${inBars(bars, sheet)}${under}; ${rivalNote} ${rivalBars.length === 0 ? "never does" : `only in ${inBars(rivalBars, sheet)}`}.`
  );
}

/** Two readings that the notes leave open, and what would decide between them. */
function openSentence(tonic: string, { between, missingDegree }: Undecided): string {
  const number = Number(missingDegree.replace(/\D/g, ""));
  const notes = between.map((name) =>
    degreeNote(tonic, modeRow(name).degrees[number - 1]?.[1] ?? missingDegree),
  );
  return (
    `The notes leave two readings open, ${tonic} ${between[0]} and ${tonic} ${between[1]}: the ${ORDINALS[number] ?? missingDegree} degree would decide, ` +
    `${notes[0]} for ${between[0]} or ${notes[1]} for ${between[1]}, and it never sounds. Add one and hear the difference.`
  );
}

/** The scale by the name that a student knows. */
function parentSentence(tonic: string, mode: ModeName): string {
  if (mode === "ionian") return `${tonic} ionian is the plain major scale.`;
  if (/minor/.test(mode)) return "";
  const parent = parentScale(tonic, mode);
  return mode === "aeolian"
    ? `${tonic} aeolian is the natural minor scale; its notes are those of ${parent}.`
    : `Its notes are those of ${parent}, heard from ${tonic}.`;
}

/** Bars as they are read; many of them as a count. */
function inBars(bars: readonly number[], sheet: Sheet): string {
  if (bars.length === sheet.grid.barCount) return "every bar";
  const list = barList(bars);
  return list.split(", ").length > 4
    ? `${bars.length} of the ${sheet.grid.barCount} bars`
    : `${bars.length === 1 ? "bar" : "bars"} ${list}`;
}

const andList = (words: readonly string[]): string =>
  words.length < 2 ? (words[0] ?? "") : `${words.slice(0, -1).join(", ")} and ${words.at(-1)}`;
