/** One note as it stands on its string's line, written and read.
 * A run of grace notes and their main note stands together; its column is that of the main note's fret.
 * Signs: h hammer-on, p pull-off, / or \ slide (before the fret), (3) tied, <12> harmonic, x dead, g3'5 grace note 3 before 5,
 * 3? not sure, 3= let ring. All but "?" "=" and g are common practice of tab, no published source. */
import { isGrace } from "./bar-time.js";
import { type NoteMark, type SheetNote, UNSURE_BELOW } from "./sheet.js";

/** `text` with the character that stands in the note's column at `anchor`. */
export type Token = { text: string; anchor: number };

export const isUnsure = (x: { by: "machine" | "hand"; confidence: number }): boolean =>
  x.by === "machine" && x.confidence < UNSURE_BELOW;

/** The notes of one string at one place. @param notes graces first @param fretBefore of the string, for the slide's slope */
export function writeToken(notes: readonly SheetNote[], fretBefore: number | undefined): Token {
  let text = "";
  let anchor = 0;
  let before = fretBefore;
  for (const [idx, note] of notes.entries()) {
    const has = (mark: NoteMark): boolean => note.marks.includes(mark);
    if (isGrace(note)) text += "g";
    if (has("hammer-on")) text += "h";
    if (has("pull-off")) text += "p";
    if (has("slide")) text += before !== undefined && before > note.fret ? "\\" : "/";
    if (has("tie")) text += "(";
    if (has("harmonic")) text += "<";
    anchor = text.length;
    text += has("dead") ? `x${note.fret === 0 ? "" : note.fret}` : String(note.fret);
    if (has("harmonic")) text += ">";
    if (has("tie")) text += ")";
    if (isUnsure(note)) text += "?";
    if (has("let-ring")) text += "=";
    if (isGrace(note) && idx < notes.length - 1) text += "'";
    before = note.fret;
  }
  return { text, anchor };
}

/** A note read from a line. `idx` is where its fret stands, `column` the place it belongs to (its main note's for a grace). */
export type ReadToken = {
  idx: number;
  column: number;
  fret: number;
  marks: NoteMark[];
  unsure: boolean;
};
/** A sign that stops the note before it on its string. */
export type StopSign = { column: number };
/** Characters that mean nothing here. */
export type Stray = { idx: number; text: string };

const NOTE = /(g?)([hp/\\]*)(\(?)(<?)(?:([xX])(\d{0,2})|(\d{1,2}))(>?)(\)?)([?=]*)('?)/y;
const FILL = /[-\s|:—–_]/;

/** Reads a stretch of a string's line. Indexes are those of the whole line. @param end one past the last character */
export function readTokens(
  line: string,
  start: number,
  end: number,
): { notes: ReadToken[]; stops: StopSign[]; strays: Stray[] } {
  const notes: ReadToken[] = [];
  const stops: StopSign[] = [];
  const strays: Stray[] = [];
  const waiting: ReadToken[] = []; // graces whose main note may follow at once
  let waitingEnd = -1;
  const settle = (): void => {
    const last = waiting.at(-1);
    for (const grace of waiting) grace.column = last?.idx ?? grace.idx;
    waiting.length = 0;
  };
  const text = line.slice(0, end);
  for (let idx = start; idx < end; ) {
    const char = text.charAt(idx);
    if (FILL.test(char)) {
      idx++;
      continue;
    }
    NOTE.lastIndex = idx;
    const match = NOTE.exec(text);
    if (!match) {
      if (char === ".") stops.push({ column: idx });
      else strays.push({ idx, text: char });
      idx++;
      continue;
    }
    const note = noteOf(match);
    if (idx !== waitingEnd) settle();
    if (match[1] === "g") {
      waiting.push(note);
      waitingEnd = idx + match[0].length;
    } else {
      for (const grace of waiting) grace.column = note.idx;
      waiting.length = 0;
    }
    notes.push(note);
    idx += match[0].length;
  }
  settle();
  return { notes, stops, strays };
}

function noteOf(match: RegExpExecArray): ReadToken {
  const [, grace, joins = "", tie, harmonic, dead, deadFret, fret] = match;
  const idx =
    match.index + (grace ?? "").length + joins.length + (tie ?? "").length + (harmonic ?? "").length;
  const marks: NoteMark[] = [];
  if (joins.includes("h")) marks.push("hammer-on");
  if (joins.includes("p")) marks.push("pull-off");
  if (/[/\\]/.test(joins)) marks.push("slide");
  if (grace) marks.push("grace");
  if (tie) marks.push("tie");
  const signs = match[10] ?? "";
  if (signs.includes("=")) marks.push("let-ring");
  if (dead) marks.push("dead");
  if (harmonic) marks.push("harmonic");
  return {
    idx,
    column: idx,
    fret: Number(dead ? deadFret || 0 : fret),
    marks,
    unsure: signs.includes("?"),
  };
}
