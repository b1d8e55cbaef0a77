/** The short paragraph "Why this is in …": what makes the tonic home and which degree decides the mode, said from the sheet's own notes and chords. */
import type { Sheet } from "../sheet/sheet.js";
import { modeRow } from "./mode-degree-table.js";
import { fifthsOfName, nameOfFifths, signatureFifths } from "./spelling.js";

/** Name of a note some semitones over the tonic, spelled by the degree's letter: the "b7" of A is G. */
export function degreeNote(tonic: string, degree: string): string {
  // Places on the line of fifths of the plain major degrees 1…7; a flat is seven fifths down, a sharp seven up.
  const plain = [0, 2, 4, -1, 1, 3, 5];
  const number = Number(degree.replace(/\D/g, ""));
  let fifths = (fifthsOfName(tonic) ?? 0) + (plain[number - 1] ?? 0);
  for (const sign of degree.replace(/\d/g, "")) fifths += sign === "#" ? 7 : -7;
  const { step, alter } = nameOfFifths(fifths);
  return step + (alter > 0 ? "#".repeat(alter) : "b".repeat(-alter));
}

/** Pitch class 0…11 of a spelled note. */
export const pitchClassOf = (name: string): number => ((((fifthsOfName(name) ?? 0) * 7) % 12) + 12) % 12;

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
  const row = modeRow(guess.mode);
  const tonicPc = pitchClassOf(guess.tonic);
  const sentences: string[] = [];
  const chords = sheet.chords.filter((c) => c.root !== "");
  const held = chords.filter((c) => pitchClassOf(c.bass || c.root) === tonicPc);
  if (chords.length > 0 && held.length * 2 >= chords.length)
    sentences.push(
      held.length === chords.length
        ? `Every chord stands over ${guess.tonic}: the held bass makes ${guess.tonic} home.`
        : `${guess.tonic} is in the bass under ${held.length} of ${chords.length} chords, and that makes it home.`,
    );
  else if (chords.length > 0) {
    const first = chords[0];
    const last = chords.at(-1);
    const ends = [first, last].filter((c) => c && pitchClassOf(c.root) === tonicPc).length;
    if (ends === 2) sentences.push(`The study begins and ends on ${guess.tonic}, its home.`);
    else if (ends === 1) sentences.push(`${guess.tonic} is where the line comes to rest.`);
  }
  const deciding = row.degrees[row.decidingIdx];
  if (deciding && !guess.undecided.length) {
    const [semitones, degree] = deciding;
    const note = degreeNote(guess.tonic, degree);
    const neighbourDegree = modeRow(row.neighbour).degrees[row.decidingIdx];
    const neighbourNote = neighbourDegree ? degreeNote(guess.tonic, neighbourDegree[1]) : "";
    const count = (pc: number): number[] => sheet.notes.filter((n) => n.midi % 12 === pc).map((n) => n.bar);
    const bars = count((tonicPc + semitones) % 12);
    const strangers = neighbourDegree ? count((tonicPc + neighbourDegree[0]) % 12) : [];
    const ordinal = ORDINALS[row.decidingIdx + 1] ?? "";
    const carriers = [
      ...new Set(
        chords.filter((c) => bars.includes(c.bar) && chordHas(c.symbol, c.root, note)).map((c) => c.symbol),
      ),
    ].slice(0, 3);
    if (bars.length > 0)
      sentences.push(
        `The ${ordinal} degree decides: it is ${note} (${degree})${neighbourNote ? `, where ${guess.tonic} ${row.neighbour} would have ${neighbourNote}` : ""}. ` +
          `${note} sounds in ${plural(new Set(bars).size, "bar")} ${barList(bars)}${carriers.length > 0 ? `, in ${carriers.join(", ")}` : ""}` +
          `${strangers.length === 0 && neighbourNote ? `; ${neighbourNote} never does.` : "."}`,
      );
  }
  for (const { between, missingDegree } of guess.undecided.slice(0, 1))
    sentences.push(
      `The notes alone leave two readings open, ${guess.tonic} ${between[0]} and ${guess.tonic} ${between[1]}: the degree that would decide, the ${ORDINALS[Number(missingDegree.replace(/\D/g, ""))] ?? missingDegree}, never sounds. Add it and hear the difference.`,
    );
  if (sentences.length < 2) sentences.push(...guess.evidence.slice(0, 2));
  const signature = signatureFifths(guess.tonic, guess.mode);
  if (!/minor/.test(guess.mode) && guess.mode !== "ionian") {
    const { step, alter } = nameOfFifths(signature);
    const parent = step + (alter > 0 ? "#" : alter < 0 ? "b" : "");
    sentences.push(`Its notes are those of ${parent} major, heard from ${guess.tonic}.`);
  }
  return sentences;
}

const plural = (count: number, word: string): string => (count === 1 ? word : `${word}s`);

/** Is the note among root, thirds, fifth or seventh of the chord as its symbol says? Only to name a likely carrier. */
function chordHas(symbol: string, root: string, note: string): boolean {
  const steps = (((pitchClassOf(note) - pitchClassOf(root)) % 12) + 12) % 12;
  const suffix = symbol.replace(/^[A-G][#b]*/, "").replace(/\/[A-G][#b]*$/, "");
  const minor = /^m(?!aj)/.test(suffix);
  const sus = /sus/.test(suffix);
  const tones = [0, sus ? (/sus2/.test(suffix) ? 2 : 5) : minor ? 3 : 4, /b5|dim/.test(suffix) ? 6 : 7];
  if (/maj7/.test(suffix)) tones.push(11);
  else if (/7/.test(suffix)) tones.push(10);
  if (/9/.test(suffix)) tones.push(2);
  if (/6/.test(suffix)) tones.push(9);
  return tones.includes(steps);
}
