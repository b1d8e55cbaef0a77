/** A hand's edits and a machine's drafts, brought together.
 * `handEdits`: the text a teacher edited against the JSON beside it; what differs is by hand. `mergeHand`: a new draft with all of that kept.
 * In: sheets. Out: sheets. What a hand wrote is never overwritten, and what a hand took out does not come back.
 * Cannot: see that whole bars were put in or taken out of the text; all later bars then count as written by hand. */
import type { Finding } from "../base/finding.js";
import { compareNotes, isGrace } from "./bar-time.js";
import { beatsText } from "./beats-text.js";
import {
  barOfDifference,
  diffSheets,
  isSameNote,
  pairChords,
  pairNotes,
  type SheetDifference,
} from "./diff.js";
import { headerText } from "./header.js";
import { regrid } from "./regrid.js";
import type { HandSet, RemovedNote, Sheet, SheetChord, SheetNote } from "./sheet.js";
import { sheetToText } from "./text.js";
import { isUnsure } from "./token.js";

/** No row of the text sheet has more bars (text.ts). */
const MOST_BARS_A_ROW = 4;

const soundKey = (n: RemovedNote): string => `${n.bar} ${n.tick} ${n.midi}`;

/** The sheet as a hand has left it: the text's music with the JSON's evidence.
 * @param before read from JSON, as last written @param text read from the text file */
export function handEdits(before: Sheet, text: Sheet): Sheet {
  if (sheetToText(before) === sheetToText(text)) return before;
  const { partner, unpaired } = pairNotes(before.notes, text.notes);
  const lettered = lettersOfOldNotes(before.notes, text.notes, partner);
  const notes = lettered.map((note) => joinNote(partner.get(note), note, text.showLeftHand ?? false));
  const textChords = chordsBack(before.chords, text.chords);
  const chords = pairChords(before.chords, textChords);
  const written = new Set(notes.map(soundKey));
  const removed: RemovedNote[] = [];
  for (const { bar, tick, midi } of [...(before.removed ?? []), ...unpaired, ...partner.values()]) {
    const key = soundKey({ bar, tick, midi });
    if (written.has(key)) continue;
    written.add(key);
    removed.push({ bar, tick, midi });
  }
  const removedChords = [
    ...(before.removedChords ?? []),
    ...chords.unpaired.map(({ bar, beat }) => ({ bar, beat })),
  ];
  const { removed: _r, removedChords: _c, showLeftHand: _l, remarks: _m, ...base } = before;
  const joined: Sheet = {
    ...base,
    ...headByHand(before, text),
    notes: notes.sort(compareNotes),
    chords: textChords.map((chord) => joinChord(chords.partner.get(chord), chord)),
    ...(removed.length > 0 ? { removed } : {}),
    ...(removedChords.length > 0 ? { removedChords } : {}),
    ...(text.showLeftHand ? { showLeftHand: true } : {}),
    ...(text.remarks ? { remarks: text.remarks } : {}),
  };
  return joined;
}

/** A longer or shorter name written over a chord shifts the rest of its row: a chord of the same name that went less than a beat that way,
 * in its own bar and after the name that changed, stands where it stood. */
function chordsBack(before: readonly SheetChord[], text: readonly SheetChord[]): SheetChord[] {
  const { partner, unpaired } = pairChords(before, text);
  const left = new Set(unpaired);
  let push: { fromBar: number; way: number } | undefined;
  return text.map((chord) => {
    const old = partner.get(chord);
    if (old) {
      const way = Math.sign(chord.symbol.length - old.symbol.length);
      if (way !== 0) push = { fromBar: chord.bar, way };
      return chord;
    }
    const stood = [...left].find((c) => {
      const went = (chord.beat - c.beat) * (push?.way ?? 0);
      return c.bar === chord.bar && c.symbol === chord.symbol && went > 0 && went < 1;
    });
    if (!push || !stood || chord.bar - push.fromBar >= MOST_BARS_A_ROW) return chord;
    left.delete(stood);
    return { ...chord, beat: stood.beat };
  });
}

/** Where a hand has put a note into a place or taken one out and left the letters below alone, the letters stay with the notes that had them.
 * Notes that get another letter are replaced in `partner`. */
function lettersOfOldNotes(
  before: readonly SheetNote[],
  text: readonly SheetNote[],
  partner: Map<SheetNote, SheetNote>,
): SheetNote[] {
  const placeOf = (n: SheetNote): string => `${n.bar} ${n.tick}`;
  const gather = (notes: readonly SheetNote[]): Map<string, SheetNote[]> => {
    const map = new Map<string, SheetNote[]>();
    for (const note of notes) map.set(placeOf(note), [...(map.get(placeOf(note)) ?? []), note]);
    return map;
  };
  const [oldPlaces, newPlaces] = [gather(before), gather(text)];
  return text.map((note) => {
    const [olds, news] = [oldPlaces.get(placeOf(note)) ?? [], newPlaces.get(placeOf(note)) ?? []];
    if (olds.length === 0 || olds.length === news.length) return note;
    const lettered = (notes: readonly SheetNote[]): number => notes.filter((n) => n.finger).length;
    if (lettered(news) < Math.min(lettered(olds), news.length)) return note; // a letter was taken out too
    const spare = olds.map((n) => n.finger);
    for (const { finger } of news) {
      if (finger === undefined) continue;
      const idx = spare.indexOf(finger);
      if (idx < 0) return note; // a letter was written anew: the text is meant as it stands
      spare.splice(idx, 1);
    }
    const old = partner.get(note);
    const finger = old?.finger;
    if (finger === note.finger) return note;
    const { finger: _finger, ...rest } = note;
    const mended: SheetNote = finger === undefined ? rest : { ...rest, finger };
    if (old) {
      partner.delete(note);
      partner.set(mended, old);
    }
    return mended;
  });
}

/** A note of the text with what the JSON knows of it. */
function joinNote(old: SheetNote | undefined, note: SheetNote, hasLeftHand: boolean): SheetNote {
  if (!old) return isUnsure(note) ? { ...note, by: "hand", confidence: 1 } : note;
  const isSame = isSameNote(old, note, hasLeftHand);
  if (isSame && isUnsure(old) === isUnsure(note)) return old;
  if (isSame && isUnsure(note))
    return { ...old, by: "machine", confidence: Math.min(old.confidence, note.confidence) };
  const isPlaceSame = old.string === note.string && old.fret === note.fret;
  const left = hasLeftHand ? note.leftFinger : isPlaceSame ? old.leftFinger : undefined;
  const { leftFinger: _left, ...rest } = note;
  return {
    ...rest,
    ...(left === undefined ? {} : { leftFinger: left }),
    by: "hand",
    confidence: 1,
    alternatives:
      old.midi === note.midi
        ? [{ string: old.string, fret: old.fret }, ...old.alternatives].filter(
            (a) => a.string !== note.string || a.fret !== note.fret,
          )
        : [],
    ...(old.onsetSec === undefined ? {} : { onsetSec: old.onsetSec }),
    ...(old.offsetSec === undefined ? {} : { offsetSec: old.offsetSec }),
    ...(old.velocity === undefined ? {} : { velocity: old.velocity }),
  };
}

function joinChord(old: SheetChord | undefined, chord: SheetChord): SheetChord {
  if (!old) return { ...chord, by: "hand", confidence: 1 };
  if (old.symbol === chord.symbol) {
    if (isUnsure(old) === isUnsure(chord)) return old;
    return isUnsure(chord)
      ? { ...old, by: "machine", confidence: Math.min(old.confidence, chord.confidence) }
      : { ...old, by: "hand", confidence: 1 };
  }
  const { symbol, root, bass } = chord;
  const others = [old.symbol, ...old.alternatives].filter((s) => s !== symbol);
  return { ...old, symbol, root, bass, by: "hand", confidence: 1, alternatives: others };
}

/** Header lines that the text says otherwise than the JSON would write them. */
function headByHand(before: Sheet, text: Sheet): Partial<Sheet> {
  const names: Record<HandSet, RegExp> = {
    title: /^title:/,
    composer: /^composer:/,
    grid: /^(tempo|meter|pick-up|feel):/,
    mode: /^(mode|undecided|parent scale|usage|improvise|why):/,
    form: /^form:/,
    repeats: /^repeats:/,
  };
  const [linesBefore, linesAfter] = [before, text].map((sheet) => headerText(sheet).split("\n"));
  const shown = (lines: readonly string[] | undefined, part: HandSet): string =>
    (lines ?? []).filter((line) => names[part].test(line)).join("\n");
  const changed = (part: HandSet): boolean => shown(linesBefore, part) !== shown(linesAfter, part);
  const parts = (["title", "composer", "grid", "mode", "form", "repeats"] as const).filter(changed);
  const head: Partial<Sheet> = {};
  if (parts.includes("title")) head.title = text.title;
  if (parts.includes("composer")) head.composer = text.composer;
  if (parts.includes("mode") && text.mode) head.mode = text.mode;
  if (parts.includes("form")) head.form = text.form;
  if (parts.includes("repeats")) head.repeats = text.repeats;
  const { tempoBpm, tempoFrom, meter, feel, swingRatio, pickupBeats, barCount } = text.grid;
  head.grid = parts.includes("grid")
    ? { ...before.grid, tempoBpm, tempoFrom, meter, feel, swingRatio, pickupBeats, barCount }
    : { ...before.grid, barCount };
  head.tuningName = text.tuningName;
  head.openMidi = text.openMidi;
  head.capo = text.capo;
  const handSet = [...new Set([...(before.handSet ?? []), ...parts])];
  return handSet.length > 0 ? { ...head, handSet } : head;
}

/** A new draft with everything a hand wrote, removed or settled in the edited sheet.
 * @returns kept: how many notes, chords and removals were a hand's; changed: what the machine decided otherwise than before, by bar */
export function mergeHand(
  machineDraft: Sheet,
  edited: Sheet,
): { sheet: Sheet; kept: number; changed: Finding[] } {
  const draft = onHandGrid(machineDraft, edited);
  const handNotes = edited.notes.filter((n) => n.by === "hand");
  const removed = edited.removed ?? [];
  const removedSounds = new Set(removed.map(soundKey));
  const removedChords = edited.removedChords ?? [];
  const { partner } = pairNotes(draft.notes, handNotes);
  const handed = handNotes.map((note) => withEvidence(note, partner.get(note)));
  const taken = new Set([...partner.values()]);
  const strings = new Set(handNotes.map((n) => `${n.bar} ${n.tick} ${n.string} ${isGrace(n)}`));
  const own = draft.notes.filter(
    (n) =>
      !taken.has(n) &&
      !strings.has(`${n.bar} ${n.tick} ${n.string} ${isGrace(n)}`) &&
      !removedSounds.has(soundKey(n)),
  );
  const handChords = edited.chords.filter((c) => c.by === "hand");
  const chords = pairChords(draft.chords, handChords);
  const isGone = (c: SheetChord): boolean =>
    removedChords.some((r) => r.bar === c.bar && Math.abs(r.beat - c.beat) < 0.02);
  const parts = edited.handSet ?? [];
  const sheet: Sheet = {
    ...draft,
    ...(parts.includes("title") ? { title: edited.title } : {}),
    ...(parts.includes("composer") || draft.composer === "" ? { composer: edited.composer } : {}),
    ...(parts.includes("mode") && edited.mode ? { mode: edited.mode } : {}),
    ...(parts.includes("form") ? { form: edited.form } : {}),
    ...(parts.includes("repeats") ? { repeats: edited.repeats } : {}),
    grid: {
      ...draft.grid,
      barCount: [...handNotes, ...handChords].reduce((n, x) => Math.max(n, x.bar), draft.grid.barCount),
      pickupBeats: Math.max(
        draft.grid.pickupBeats,
        handNotes.some((n) => n.bar === 0) ? edited.grid.pickupBeats : 0,
      ),
    },
    notes: [...own, ...handed].sort(compareNotes),
    chords: [
      ...chords.unpaired.filter((c) => !isGone(c)),
      ...handChords.map((c) => chordTimes(c, chords.partner.get(c))),
    ].sort((a, b) => a.bar - b.bar || a.beat - b.beat),
    ...(removed.length > 0 ? { removed } : {}),
    ...(removedChords.length > 0 ? { removedChords } : {}),
    ...(parts.length > 0 ? { handSet: parts } : {}),
    ...(edited.showLeftHand ? { showLeftHand: true } : {}),
    ...(edited.remarks ? { remarks: edited.remarks } : {}),
  };
  return {
    sheet,
    kept: handNotes.length + handChords.length + removed.length + removedChords.length + parts.length,
    changed: changedFindings(diffSheets(edited, sheet)),
  };
}

/** The draft on the grid that a hand has set, where one has. */
function onHandGrid(draft: Sheet, edited: Sheet): Sheet {
  if (!edited.handSet?.includes("grid")) return draft;
  const { firstBeatSec, tempoBpm, meter, feel, swingRatio } = edited.grid;
  const groups = draft.groupOfBar;
  const isSame =
    Math.abs(firstBeatSec - draft.grid.firstBeatSec) < 0.02 &&
    Math.abs(tempoBpm - draft.grid.tempoBpm) < 0.5 &&
    meter.beats === draft.grid.meter.beats &&
    meter.unit === draft.grid.meter.unit &&
    feel === draft.grid.feel;
  if (isSame) return draft;
  const moved = regrid(draft, {
    kind: "set-grid",
    ...(edited.grid.beatSec.length > 0 ? { firstBeatSec } : {}),
    tempoBpm,
    meter,
    feel,
    ...(feel === "swing" ? { swingRatio } : {}),
  });
  return moved.grid.barCount === draft.grid.barCount
    ? { ...moved, groupOfBar: groups, form: draft.form }
    : moved;
}

const withEvidence = (note: SheetNote, heard: SheetNote | undefined): SheetNote =>
  heard === undefined || heard.midi !== note.midi
    ? note
    : {
        ...note,
        ...(heard.onsetSec === undefined ? {} : { onsetSec: heard.onsetSec }),
        ...(heard.offsetSec === undefined ? {} : { offsetSec: heard.offsetSec }),
        ...(heard.velocity === undefined ? {} : { velocity: heard.velocity }),
      };

const chordTimes = (chord: SheetChord, heard: SheetChord | undefined): SheetChord => ({
  ...chord,
  ...(heard?.startSec === undefined ? {} : { startSec: heard.startSec }),
  ...(heard?.endSec === undefined ? {} : { endSec: heard.endSec }),
});

const noteText = (n: SheetNote): string =>
  `string ${n.string} fret ${n.fret} at beat ${beatsText(n.tick + 24)}`;

/** What the machine decided anew, one finding a bar. */
function changedFindings(differences: readonly SheetDifference[]): Finding[] {
  const byBar = new Map<number, string[]>();
  for (const d of differences) {
    const words = wordsOf(d);
    if (words === undefined) continue;
    byBar.set(barOfDifference(d), [...(byBar.get(barOfDifference(d)) ?? []), words]);
  }
  return [...byBar].map(([bar, words]) => ({
    rule: "redecided",
    level: "note",
    bar,
    message: `${words.slice(0, 4).join("; ")}${words.length > 4 ? `; and ${words.length - 4} more` : ""}`,
    hint: "Only what was the machine's has changed; settle it by hand to keep it.",
  }));
}

function wordsOf(d: SheetDifference): string | undefined {
  switch (d.kind) {
    case "note-added":
      return `${noteText(d.after)} is new`;
    case "note-removed":
      return `${noteText(d.before)} is gone`;
    case "note-changed":
      return d.before.string === d.after.string && d.before.fret === d.after.fret
        ? d.before.finger === d.after.finger
          ? undefined
          : `${noteText(d.after)} is plucked by ${d.after.finger ?? "no finger"}`
        : `${noteText(d.before)} is now string ${d.after.string} fret ${d.after.fret}`;
    case "chord-added":
      return `chord ${d.after.symbol} is new`;
    case "chord-removed":
      return `chord ${d.before.symbol} is gone`;
    case "chord-changed":
      return `chord ${d.before.symbol} is now ${d.after.symbol}`;
  }
}
