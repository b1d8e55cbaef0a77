/** Take to sheet: the one file that calls stage after stage.
 *
 * In: a Take, what the player says of it, and a network to listen with. Out: a Sheet and the evidence it stands on.
 * Order: listen, grid, place, group the bars, listen again over repeats, place again, chords and mode, hands, form and pattern, sheet.
 * Deterministic: the same take and options give the same sheet. Cannot: hear what two guitars play, or free time without a beat. */
import { qualityFindings } from "./audio/quality.js";
import type { Take } from "./audio/take.js";
import { PulgarError } from "./base/errors.js";
import type { Finding } from "./base/finding.js";
import type { OnProgress } from "./base/progress.js";
import { findAttacks } from "./grid/attacks.js";
import { findGrid } from "./grid/beats.js";
import { gridFindings } from "./grid/findings.js";
import type { Grid, Meter, PlacedNote } from "./grid/grid.js";
import { placeNotes } from "./grid/place.js";
import { groupBars } from "./grid/repeats.js";
import { careFindings } from "./hands/care.js";
import type { HandWeights } from "./hands/cost-table.js";
import type { FrettedNote, Instrument, Lock } from "./hands/fretted.js";
import { fretNotes, rangeFindings } from "./hands/search.js";
import { nameChords } from "./harmony/chords.js";
import type { ChordSpan } from "./harmony/harmony.js";
import { findMode } from "./harmony/mode.js";
import { spellHarmony } from "./harmony/spell.js";
import type { ListenerCard } from "./notes/card.js";
import { listen } from "./notes/listen.js";
import type { Listening, PlayedNote, RunNet } from "./notes/played-note.js";
import { poolRepeats } from "./notes/pool.js";
import { buildSheet } from "./sheet/build.js";
import { findForm } from "./sheet/form.js";
import { findPattern } from "./sheet/pattern.js";
import type { FormPart, Repeat, Sheet, SheetChord } from "./sheet/sheet.js";

/** What the player says of the take; only the instrument is needed.
 * @property tempoBpm counts the note of the meter's lower number @property locks what a hand has fixed in an earlier sheet */
export type DraftOptions = {
  title?: string;
  fileName?: string;
  tempoBpm?: number;
  meter?: Meter;
  startSec?: number;
  countInBeats?: number;
  feel?: "straight" | "swing";
  gridDivision?: 8 | 12 | 16;
  tuningName: string;
  openMidi: readonly number[];
  capo: number;
  highestFret?: number;
  locks?: readonly Lock[];
  weights?: Partial<HandWeights>;
};

/** A listener and where to tell of progress. @property onHeard told when the sound is needed no more: nobody here holds it from then on */
export type DraftDeps = {
  runNet: RunNet;
  card: ListenerCard;
  onProgress?: OnProgress;
  onHeard?: () => void;
};

export const INSTRUMENT_DEFAULTS = {
  highestFret: 19, // classical and most steel-string acoustics have 19 or 20
  scaleLengthMm: 650, // the concert guitar's scale, common practice
} as const;

/** The instrument that the options describe. */
export const instrumentOf = (options: {
  openMidi: readonly number[];
  capo: number;
  highestFret?: number;
}): Instrument => ({
  openMidi: options.openMidi,
  capo: options.capo,
  highestFret: (options.highestFret ?? INSTRUMENT_DEFAULTS.highestFret) - options.capo,
  scaleLengthMm: INSTRUMENT_DEFAULTS.scaleLengthMm,
});

/** Drafts the sheet of a take. The sound is let go of when it is heard: an hour of it is 300 MB, and no async function here holds its
 * take while the sheet is written.
 * @throws PulgarError "no-notes" when nothing that could be a guitar note is heard */
export function draftSheet(
  take: Take,
  options: DraftOptions,
  deps: DraftDeps,
): Promise<{ sheet: Sheet; listening: Listening }> {
  const tell = deps.onProgress ?? (() => undefined);
  const heard = listen(take, deps.runNet, {
    card: deps.card,
    onProgress: (_stage, share) => tell("listening", share),
  });
  const sound = factsOf(take); // while the listener's threads are at work
  return heard.then((listening) => {
    deps.onHeard?.();
    if (listening.notes.length === 0)
      throw new PulgarError(
        "no-notes",
        `${options.fileName ?? "take"}: no guitar notes heard`,
        "Is this the right recording? The guitar must sound by itself, without a band.",
      );
    tell("writing the sheet", 0);
    const sheet = sheetFromListening(sound, listening, options);
    tell("writing the sheet", 1);
    return { sheet, listening };
  });
}

/** What the sheet needs to know of the sound itself, beside what is heard.
 * @property clickSec onsets of clicks and taps @property findings on the recording */
export type SoundFacts = { clickSec: number[]; findings: Finding[]; sampleRateHz: number };

export const factsOf = (take: Take): SoundFacts => ({
  clickSec: findAttacks(take)
    .filter((attack) => !attack.pitched)
    .map((attack) => attack.onsetSec),
  findings: qualityFindings(take),
  sampleRateHz: take.recorded?.sampleRateHz ?? take.sampleRateHz,
});

/** The sheet of a take that has been listened to already: all stages after the first. */
export function sheetFromListening(sound: SoundFacts, listening: Listening, options: DraftOptions): Sheet {
  return sheetFromNotes(timeTake(sound, listening, options), sound, listening, options);
}

type Timed = { grid: Grid; notes: PlacedNote[]; groupOfBar: number[] };

/** Grid and places, with a second hearing over bars that are the same music. */
function timeTake(sound: SoundFacts, listening: Listening, options: DraftOptions): Timed {
  const grid = findGrid(listening, { ...options, clicks: sound.clickSec });
  const division = options.gridDivision === undefined ? {} : { gridDivision: options.gridDivision };
  const place = (notes: PlayedNote[]): PlacedNote[] => placeNotes(notes, grid, division);
  const first = place(listening.notes);
  const groups = groupBars(first, grid);
  const pooled = poolRepeats(listening, barSpans(grid), groups.groupOfBar);
  if (pooled.changed === 0) return { grid, notes: first, groupOfBar: groups.groupOfBar };
  const second = place(pooled.notes);
  return { grid, notes: second, groupOfBar: groupBars(second, grid).groupOfBar };
}

function barSpans(grid: Grid): { startSec: number; endSec: number; beatSec: number[] }[] {
  const { beats } = grid.meter;
  return Array.from({ length: grid.barCount }, (_, k) => {
    const beatSec = grid.beatSec.slice(k * beats, (k + 1) * beats + 1);
    return { startSec: beatSec[0] ?? 0, endSec: beatSec.at(-1) ?? 0, beatSec };
  });
}

function sheetFromNotes(timed: Timed, sound: SoundFacts, listening: Listening, options: DraftOptions): Sheet {
  const { grid, notes, groupOfBar } = timed;
  const instrument = instrumentOf(options);
  const named = nameChords(notes, grid);
  const mode = findMode({ notes, chords: named, grid });
  const chords = spellHarmony(named, mode);
  const locks = options.locks ?? [];
  const fretted: FrettedNote[] = fretNotes(notes, instrument, {
    locks,
    groupOfBar,
    ...(options.weights ? { weights: options.weights } : {}),
  });
  const findings: Finding[] = [
    ...sound.findings,
    ...gridFindings(listening.notes, grid, options),
    ...rangeFindings(notes, instrument),
    ...careFindings(fretted, instrument),
  ];
  const sheet = buildSheet({
    title: options.title ?? "Untitled study",
    notes: fretted,
    grid: { ...grid, tempoBpm: options.tempoBpm ?? grid.tempoBpm }, // the beats follow the player, the sheet says what was said
    chords,
    mode,
    form: findForm(groupOfBar).form,
    groupOfBar,
    take: {
      file: options.fileName ?? "",
      durationSec: listening.durationSec,
      sampleRateHz: sound.sampleRateHz,
      tuningCents: listening.tuningCents,
    },
    tuningName: options.tuningName,
    openMidi: [...options.openMidi],
    capo: options.capo,
    findings,
  });
  return withPattern(sheet);
}

/** The sheet with its picking pattern found anew; without the field when there is none. */
export function withPattern(sheet: Sheet): Sheet {
  const { pattern: _old, ...rest } = sheet;
  const pattern = findPattern(sheet.notes, sheet.grid);
  return pattern ? { ...rest, pattern } : rest;
}

/** Pitches on a grid, without strings, as a MIDI file or some MusicXML holds them, and what stands over their bars.
 * @property marks strings and fingers that a player wrote: the search keeps them
 * @property chords written ones; [] has them found from the notes @property form [] has it found from bars that come back */
export type PitchSheet = {
  notes: readonly PlacedNote[];
  marks?: readonly Lock[];
  grid: Grid;
  title: string;
  composer: string;
  chords: readonly SheetChord[];
  form: readonly FormPart[];
  repeats: readonly Repeat[];
};

/** A sheet from pitches: the same fretboard search and mode as a take's, without evidence of the strings. Chords, form and repeats that
 * are written stay as they are written.
 * @throws PulgarError "no-notes" */
export function sheetFromPitches(
  pitches: PitchSheet,
  options: Pick<DraftOptions, "tuningName" | "openMidi" | "capo" | "highestFret" | "weights">,
): Sheet {
  const { grid, title } = pitches;
  const notes = [...pitches.notes];
  if (notes.length === 0)
    throw new PulgarError("no-notes", `${title}: holds no notes`, "Is this the right file?");
  const instrument = instrumentOf(options);
  const groupOfBar = groupBars(notes, grid).groupOfBar;
  const isWritten = pitches.chords.length > 0;
  const named = isWritten ? timedChords(pitches.chords, grid) : nameChords(notes, grid);
  const mode = findMode({ notes, chords: named, grid });
  const fretted = fretNotes(notes, instrument, {
    groupOfBar,
    locks: pitches.marks ?? [],
    ...(options.weights ? { weights: options.weights } : {}),
  });
  const sheet = buildSheet({
    title,
    composer: pitches.composer,
    notes: fretted,
    grid,
    chords: spellHarmony(named, mode),
    mode,
    form: pitches.form.length > 0 ? pitches.form : findForm(groupOfBar).form,
    groupOfBar,
    tuningName: options.tuningName,
    openMidi: [...options.openMidi],
    capo: options.capo,
    findings: [...rangeFindings(notes, instrument), ...careFindings(fretted, instrument)],
  });
  const written = isWritten ? { chords: [...pitches.chords] } : {};
  return withPattern({ ...sheet, ...written, repeats: [...pitches.repeats] });
}

/** Written chords with the times that the grid gives them, each until the next. */
function timedChords(chords: readonly SheetChord[], grid: Grid): ChordSpan[] {
  const lastIdx = grid.beatSec.length - 1;
  const secOf = ({ bar, beat }: SheetChord): number => {
    // Bar 0 is the pick-up; its beats end where bar 1 begins.
    const at = (bar === 0 ? -grid.pickupBeats : (bar - 1) * grid.meter.beats) + beat - 1;
    const idx = Math.max(0, Math.min(lastIdx - 1, Math.floor(at)));
    const fromSec = grid.beatSec[idx] ?? 0;
    return fromSec + (at - idx) * ((grid.beatSec[idx + 1] ?? fromSec) - fromSec);
  };
  return chords.map((chord, k) => {
    const next = chords[k + 1];
    return { ...chord, startSec: secOf(chord), endSec: next ? secOf(next) : (grid.beatSec[lastIdx] ?? 0) };
  });
}
