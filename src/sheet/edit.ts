/** Mending a sheet: every edit is a value, `applyEdit` makes a new sheet and leaves the old one, so that undo is keeping old sheets.
 * In: a sheet and an edit. Out: a sheet; what the edit touched is by hand, and notes whose length went without saying keep doing so.
 * Cannot: decide the neighbours anew; the caller runs the fretboard search with `locksOf` for that. */
import { PulgarError } from "../base/errors.js";
import type { Meter } from "../grid/grid.js";
import type { LeftFinger, PickFinger } from "../hands/fretted.js";
import type { ModeName } from "../harmony/harmony.js";
import { barTicks, compareNotes, isGrace, midiAt, plainLength } from "./bar-time.js";
import { editChord, editHead, type HeadEdit } from "./edit-head.js";
import { regrid } from "./regrid.js";
import type { NoteMark, Sheet, SheetNote } from "./sheet.js";

/** Which note: its place and string; `grace` for the grace note before the main one. */
export type NoteRef = { bar: number; tick: number; string: number; grace?: boolean };

/** An edit of one note. */
type NoteEdit =
  | { kind: "move-string"; at: NoteRef; string: number }
  | { kind: "set-fret"; at: NoteRef; fret: number }
  | { kind: "set-finger"; at: NoteRef; finger: PickFinger | "none" }
  | { kind: "set-left-finger"; at: NoteRef; leftFinger: LeftFinger | "none" }
  | { kind: "set-marks"; at: NoteRef; marks: NoteMark[] }
  | { kind: "move-place"; at: NoteRef; bar: number; tick: number }
  | { kind: "set-length"; at: NoteRef; lengthTicks: number }
  | { kind: "delete-note"; at: NoteRef }
  | { kind: "accept-alternative"; at: NoteRef; alternativeIdx: number }
  | { kind: "settle-note"; at: NoteRef }
  | { kind: "release-note"; at: NoteRef };

/** An edit of the grid; what is left out stays. Times in seconds, tempo in beats of the meter's lower number. */
export type GridEdit = {
  kind: "set-grid";
  firstBeatSec?: number;
  tempoBpm?: number;
  meter?: Meter;
  feel?: "straight" | "swing";
  swingRatio?: number;
};

/** Every way to mend a sheet. settle = right as it is; release = the machine may decide it anew. */
export type Edit =
  | NoteEdit
  | { kind: "add-note"; note: NoteRef & { fret: number; lengthTicks?: number; finger?: PickFinger } }
  | { kind: "settle-bar"; bar: number }
  | { kind: "rename-chord"; bar: number; beat: number; symbol: string }
  | { kind: "delete-chord"; bar: number; beat: number }
  | GridEdit
  | { kind: "set-title"; title: string }
  | { kind: "set-composer"; composer: string }
  | { kind: "set-mode"; tonic: string; mode: ModeName };

/** Highest fret from the capo that an edit may ask for: the neck's end on most guitars, with room. */
const HIGHEST_FRET = 24;

/** The sheet with the edit done. @throws PulgarError "bad-usage" for a note that is not there, "unplayable" for a place that no string has */
export function applyEdit(sheet: Sheet, edit: Edit): Sheet {
  switch (edit.kind) {
    case "rename-chord":
    case "delete-chord":
      return editChord(sheet, edit);
    case "set-title":
    case "set-composer":
    case "set-mode":
      return editHead(sheet, edit satisfies HeadEdit);
    case "set-grid":
      return regrid(sheet, edit);
    case "settle-bar":
      return {
        ...sheet,
        notes: sheet.notes.map((n) => (n.bar === edit.bar ? byHand(n) : n)),
        chords: sheet.chords.map((c) => (c.bar === edit.bar ? { ...c, by: "hand", confidence: 1 } : c)),
      };
    case "add-note":
      return addNote(sheet, edit.note);
    default:
      return editNote(sheet, edit);
  }
}

const byHand = (note: SheetNote): SheetNote => ({ ...note, by: "hand", confidence: 1 });

/** The note a reference means. */
export const findNote = (sheet: Sheet, at: NoteRef): SheetNote | undefined =>
  sheet.notes.find(
    (n) =>
      n.bar === at.bar && n.tick === at.tick && n.string === at.string && isGrace(n) === (at.grace ?? false),
  );

function editNote(sheet: Sheet, edit: NoteEdit): Sheet {
  const note = findNote(sheet, edit.at);
  if (!note)
    throw new PulgarError(
      "bad-usage",
      `bar ${edit.at.bar}, tick ${edit.at.tick}, string ${edit.at.string}: there is no such note`,
      "The sheet has changed meanwhile; look again.",
    );
  if (edit.kind === "delete-note") return replaceNote(sheet, note, undefined);
  if (edit.kind === "release-note") return replaceNote(sheet, note, { ...note, by: "machine" });
  return replaceNote(sheet, note, editedNote(sheet, note, edit));
}

function editedNote(
  sheet: Sheet,
  note: SheetNote,
  edit: Exclude<NoteEdit, { kind: "delete-note" | "release-note" }>,
): SheetNote {
  const mended = byHand(note);
  switch (edit.kind) {
    case "settle-note":
      return mended;
    case "move-string":
      return placed(sheet, mended, edit.string, note.midi - midiAt(sheet, edit.string, 0));
    case "set-fret":
      return placed(sheet, mended, note.string, edit.fret);
    case "accept-alternative": {
      const place = note.alternatives[edit.alternativeIdx];
      if (!place)
        throw new PulgarError("bad-usage", "there is no such alternative", "Choose one that is listed.");
      return placed(sheet, mended, place.string, place.fret);
    }
    case "set-finger": {
      const { finger: _old, ...rest } = mended;
      return edit.finger === "none" ? rest : { ...rest, finger: edit.finger };
    }
    case "set-left-finger": {
      const { leftFinger: _old, ...rest } = mended;
      return edit.leftFinger === "none" ? rest : { ...rest, leftFinger: edit.leftFinger };
    }
    case "set-marks":
      return { ...mended, marks: [...edit.marks] };
    case "set-length":
      checkWhole(edit.lengthTicks, 1, 100_000, "lengthTicks");
      return { ...mended, lengthTicks: edit.lengthTicks };
    case "move-place":
      checkPlace(sheet, edit.bar, edit.tick);
      return { ...mended, bar: edit.bar, tick: edit.tick };
  }
}

/** The note on another string or fret, the old place first among its alternatives where the pitch stays. */
function placed(sheet: Sheet, note: SheetNote, string: number, fret: number): SheetNote {
  const midi = midiAt(sheet, string, fret);
  checkWhole(string, 1, 6, "string");
  if (!Number.isInteger(fret) || fret < 0 || fret > HIGHEST_FRET || midi > 127)
    throw new PulgarError(
      "unplayable",
      `string ${string} would need fret ${fret}; frets go from 0 to ${HIGHEST_FRET} from the capo`,
      "Choose another string.",
    );
  const isMoved = string !== note.string || fret !== note.fret;
  const others = note.alternatives.filter((a) => a.string !== string || a.fret !== fret);
  const alternatives =
    midi !== note.midi ? [] : isMoved ? [{ string: note.string, fret: note.fret }, ...others] : others;
  const moved: SheetNote = { ...note, string, fret, midi, alternatives };
  if (fret !== note.fret) {
    const { leftFinger: _old, ...rest } = moved; // a finger for another fret
    return fret === 0 && note.leftFinger !== undefined ? { ...rest, leftFinger: 0 } : rest;
  }
  return moved;
}

function checkWhole(value: number, low: number, high: number, name: string): void {
  if (!Number.isInteger(value) || value < low || value > high)
    throw new PulgarError("bad-usage", `${name}: ${value}; want ${low} to ${high}`, "Choose another value.");
}

function checkPlace(sheet: Sheet, bar: number, tick: number): void {
  const firstBar = barTicks(sheet, 0) > 0 ? 0 : 1;
  checkWhole(bar, firstBar, sheet.grid.barCount, "bar");
  checkWhole(tick, 0, barTicks(sheet, bar) - 1, "tick");
}

function addNote(
  sheet: Sheet,
  raw: NoteRef & { fret: number; lengthTicks?: number; finger?: PickFinger },
): Sheet {
  checkPlace(sheet, raw.bar, raw.tick);
  const bare: SheetNote = {
    bar: raw.bar,
    tick: raw.tick,
    lengthTicks: raw.lengthTicks ?? 1,
    string: raw.string,
    fret: raw.fret,
    midi: 0,
    ...(raw.finger === undefined ? {} : { finger: raw.finger }),
    marks: raw.grace ? ["grace"] : [],
    by: "hand",
    confidence: 1,
    alternatives: [],
  };
  const note = placed(sheet, bare, raw.string, raw.fret);
  if (raw.lengthTicks === undefined)
    note.lengthTicks = plainLength(
      note,
      sheet.notes.filter((n) => n.bar === note.bar && n.string === note.string),
      barTicks(sheet, note.bar),
    );
  return replaceNote(sheet, undefined, note);
}

/** The sheet with one note put in the place of another. A note that stood on the new note's string and place gives way.
 * What went is remembered as removed by hand; what came is no longer. */
function replaceNote(sheet: Sheet, old: SheetNote | undefined, fresh: SheetNote | undefined): Sheet {
  const clash = fresh && findNote(sheet, { ...fresh, grace: isGrace(fresh) });
  const gone = [old, clash === old ? undefined : clash].filter((n) => n !== undefined);
  const kept = sheet.notes.filter((n) => !gone.includes(n));
  const notes = fresh ? [...kept, fresh].sort(compareNotes) : kept;
  const sameAs = (n: SheetNote) => (r: { bar: number; tick: number; midi: number }) =>
    r.bar === n.bar && r.tick === n.tick && r.midi === n.midi;
  let removed = [...(sheet.removed ?? [])];
  for (const note of gone)
    if (!notes.some(sameAs(note)) && !removed.some(sameAs(note)))
      removed.push({ bar: note.bar, tick: note.tick, midi: note.midi });
  if (fresh) removed = removed.filter((r) => !sameAs(fresh)(r));
  const { removed: _before, ...rest } = sheet;
  const next: Sheet = { ...rest, notes, ...(removed.length > 0 ? { removed } : {}) };
  const touched = [old, fresh].filter((n) => n !== undefined);
  return keepPlainLengths(sheet, next, touched, old, fresh);
}

/** Notes around the edited one that lasted "until the next note" still do. The edited note does too unless its length was what was edited. */
function keepPlainLengths(
  before: Sheet,
  after: Sheet,
  touched: readonly SheetNote[],
  old: SheetNote | undefined,
  fresh: SheetNote | undefined,
): Sheet {
  const isTouched = (n: SheetNote): boolean => touched.some((t) => t.bar === n.bar && t.string === n.string);
  const onString = (sheet: Sheet, note: SheetNote): SheetNote[] =>
    sheet.notes.filter((n) => n.bar === note.bar && n.string === note.string);
  const wasPlain = (n: SheetNote): boolean =>
    n.lengthTicks === plainLength(n, onString(before, n), barTicks(before, n.bar));
  const notes = after.notes.map((note) => {
    if (!isTouched(note)) return note;
    const source = note === fresh ? old : note;
    if (!source || !wasPlain(source) || source.lengthTicks !== note.lengthTicks) return note;
    const plain = plainLength(note, onString(after, note), barTicks(after, note.bar));
    return plain === note.lengthTicks ? note : { ...note, lengthTicks: plain };
  });
  return { ...after, notes };
}
