/** Where in the recording each written note is.
 * In: Sheet, Listening. Out: Alignment: a time for each written event that was played, what was left out, what was played besides.
 * Method: (1) unfold the repeats (written.ts); (2) find the pitch at which the recording stands (transpose.ts) and the player's path
 * with jumps (coarse.ts); then with his tempo
 * (tempo-path.ts; a tab without rhythm first gets one, guess-rhythm.ts); (3) set the bars as played against the bars as written (structure.ts, in-place.ts); (4) exact times by the local tempo
 * (fine.ts), twice, the second time with the tempo that the first found; (5) each note's own onset peak near its event.
 * Evidence is asked directly: a note that the listener did not pick still pulls the alignment.
 * Can't do: music that returns after improvisation longer than the piece; two guitars. */
import type { Finding } from "../base/finding.js";
import { median } from "../base/numbers.js";
import type { Listening } from "../notes/played-note.js";
import type { Sheet } from "../sheet/sheet.js";
import { coarsePath } from "./coarse.js";
import { peakBetween } from "./evidence.js";
import { type FineItem, fineTimes, localPulse } from "./fine.js";
import { guessRhythm } from "./guess-rhythm.js";
import { roughTimes, settleInPlace } from "./in-place.js";
import { keepPulse } from "./keep-pulse.js";
import { type Ignored, passageFindings } from "./passages.js";
import { structureOf } from "./structure.js";
import { tempoPath } from "./tempo-path.js";
import { likelyShifts, type Retuned, retunedFinding, retunedStrings, shiftFinding } from "./transpose.js";
import { type Score, swungTick, unfoldSheet, type WrittenEvent } from "./written.js";

const ALIGN_DEFAULTS = Object.freeze({
  noteReachSec: 0.07, // a pinch's or a strum's first and last string are up to 60 ms apart
  rollReachSec: 0.14, // four strings and more may be rolled, up to 35 ms a string
  rollFrom: 4,
  graceBeforeSec: 0.18, // a grace note is played before its beat
  heardLogit: -1, // an onset peak of a written note above this moves its time
  asWritten: 6, // logits that another pitch must win by: two written notes
});

/** A written event with its place in the recording.
 * @property sec undefined when it was not played
 * @property noteSec by position in noteIdxs: the note's own onset, or the event's where it has none
 * @property secPerTick the player's tempo there; undefined without rhythm */
export type AlignedEvent = WrittenEvent & {
  sec?: number;
  noteSec: (number | undefined)[];
  secPerTick?: number;
};

/** @property midiOf sounding pitch as recorded of each sheet note (transposition and retuned strings applied)
 * @property ignored stretches where what was played is not compared with the sheet
 * @property agreement share of the written notes asked for that have an onset where they should, 0…1
 * @property coverage notes found, as a share of the written or of the heard ones, whichever are fewer */
export type Alignment = {
  score: Score;
  events: AlignedEvent[];
  transposeSemitones: number;
  retuned: Retuned[];
  midiOf: number[];
  ignored: Ignored[];
  agreement: number;
  coverage: number;
  findings: Finding[];
};

/** Find the sheet in the recording. Never throws for music that does not fit: `agreement` says how well it does. */
export function alignSheet(
  sheet: Sheet,
  listening: Listening,
  options: { shifts?: readonly number[] } = {},
): Alignment {
  const map = listening.evidence;
  const asWritten = unfoldSheet(sheet);
  const written = sheet.notes.map((n) => n.midi);
  const shifts = options.shifts ?? likelyShifts(written, listening);
  let transpose = 0;
  let path = { visits: [], score: Number.NEGATIVE_INFINITY } as ReturnType<typeof coarsePath>;
  for (const shift of shifts) {
    const tried = coarsePath(asWritten, map, shift);
    const handicap = shift === 0 ? 0 : ALIGN_DEFAULTS.asWritten;
    if (tried.score - handicap > path.score) {
      path = { ...tried, score: tried.score - handicap };
      transpose = shift;
    }
  }
  let score = asWritten;
  for (let round = 0; round < (asWritten.hasRhythm ? 1 : 2); round++) {
    score = guessRhythm(asWritten, path, map, transpose);
    if (score.hasRhythm || score !== asWritten) path = tempoPath(score, map, transpose, path);
  }
  const keepsTime = score.hasRhythm || score !== asWritten;
  const found = structureOf(
    score,
    path,
    listening.notes.map((n) => n.onsetSec),
  );
  const structure = keepsTime ? settleInPlace(score, found, map, listening.notes, transpose) : found;
  const rough = roughTimes(score, structure.places);
  const midiOf = written.map((midi) => midi + transpose);

  const playedIdxs = score.events.map((_, e) => e).filter((e) => rough[e] !== undefined);
  const swingOf = (event: WrittenEvent): number =>
    score.hasRhythm ? swungTick(event.tick, sheet) - event.tick : 0;
  const items = (secs: readonly (number | undefined)[]): FineItem[] =>
    playedIdxs.map((e) => {
      const event = score.events[e] as WrittenEvent;
      const midis = event.noteIdxs.map((i) => midiOf[i] as number);
      const item = { midis, sec: secs[e] as number };
      if (!keepsTime) return item;
      return { ...item, startTick: event.startTick + swingOf(event) };
    });
  const settle = (secs: (number | undefined)[]): (number | undefined)[] => {
    const times = fineTimes(map, items(secs));
    const out = new Array<number | undefined>(score.events.length).fill(undefined);
    playedIdxs.forEach((e, i) => {
      out[e] = times[i];
    });
    return out;
  };
  let secs = settle(settle(rough));

  const stringNotes = score.events.flatMap((event, e) =>
    event.noteIdxs.flatMap((i) => {
      const note = sheet.notes[i];
      const sec = secs[e];
      return note && sec !== undefined ? [{ string: note.string, midi: midiOf[i] as number, sec }] : [];
    }),
  );
  const retuned = retunedStrings(stringNotes, listening);
  if (retuned.length > 0) {
    sheet.notes.forEach((note, i) => {
      const shift = retuned.find((r) => r.string === note.string)?.semitones ?? 0;
      midiOf[i] = (midiOf[i] as number) + shift;
    });
    secs = settle(secs);
  }

  const pulse = localPulse(items(secs));
  const pulseOf = new Map(playedIdxs.map((e, i) => [e, pulse[i]]));
  if (keepsTime)
    secs = keepPulse(
      score,
      secs,
      score.events.map((_, e) => pulseOf.get(e)),
      score.events.map((event) => event.startTick + swingOf(event)),
      map,
      midiOf,
    );
  let asked = 0;
  let heardCount = 0;
  const events = score.events.map((event, e): AlignedEvent => {
    const sec = secs[e];
    if (sec === undefined) return { ...event, noteSec: event.noteIdxs.map(() => undefined) };
    const heard: number[] = [];
    const own = event.noteIdxs.map((i) => {
      const reach =
        event.noteIdxs.length >= ALIGN_DEFAULTS.rollFrom
          ? ALIGN_DEFAULTS.rollReachSec
          : ALIGN_DEFAULTS.noteReachSec;
      const before = sheet.notes[i]?.marks.includes("grace") ? ALIGN_DEFAULTS.graceBeforeSec : reach;
      const peak = peakBetween(map, midiOf[i] as number, sec - before, sec + reach);
      if (peak) asked++;
      if (!peak || peak.logit < ALIGN_DEFAULTS.heardLogit) return undefined;
      heardCount++;
      heard.push(peak.sec);
      return peak.sec;
    });
    const eventSec = median(heard) ?? sec;
    const slope = pulseOf.get(e);
    return {
      ...event,
      sec: eventSec,
      noteSec: own.map((s) => s ?? eventSec),
      ...(slope === undefined ? {} : { secPerTick: slope }),
    };
  });
  const said = passageFindings(score, structure, events, listening);
  const shift = shiftFinding(transpose, sheet);
  const findings = [
    ...(shift ? [shift] : []),
    ...retuned.map((r) => retunedFinding(r, sheet)),
    ...said.findings,
  ];
  return {
    score,
    events,
    transposeSemitones: transpose,
    retuned,
    midiOf,
    ignored: said.ignored,
    agreement: asked === 0 ? 0 : heardCount / asked,
    coverage:
      heardCount /
      Math.max(
        1,
        Math.min(
          score.events.reduce((n, e) => n + e.noteIdxs.length, 0),
          listening.notes.length,
        ),
      ),
    findings,
  };
}
