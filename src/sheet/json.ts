/** Sheet → the JSON document `pulgar.sheet`, version 1. In: a sheet. Out: a plain object; absent values are left out.
 * Names are an interface (outside checks read them); `read-json.ts` reads the document back to the same sheet.
 * Beyond the fixed names a note has tick, lengthTicks, leftFinger, marks and velocity, and the sheet its title, repeats and groups. */
import { BEAT_TICKS } from "./bar-time.js";
import { readSheetJson } from "./read-json.js";
import type { Sheet, SheetNote } from "./sheet.js";

/** The document as a plain object, ready for JSON.stringify. */
export function sheetToJson(sheet: Sheet): object {
  const { grid } = sheet;
  return {
    format: "pulgar.sheet",
    version: 1,
    title: sheet.title,
    composer: sheet.composer,
    ...(sheet.take ? { take: { ...sheet.take } } : {}),
    tuning: { name: sheet.tuningName, openMidi: [...sheet.openMidi] },
    capo: sheet.capo,
    grid: {
      tempoBpm: grid.tempoBpm,
      tempoFrom: grid.tempoFrom,
      meter: { beats: grid.meter.beats, unit: grid.meter.unit },
      beatSec: [...grid.beatSec],
      firstBeatSec: grid.firstBeatSec,
      feel: grid.feel,
      swingRatio: grid.swingRatio,
      barCount: grid.barCount,
      pickupBeats: grid.pickupBeats,
      countInBeats: grid.countInBeats,
      confidence: grid.confidence,
      readings: grid.readings,
    },
    notes: sheet.notes.map(noteToJson),
    chords: sheet.chords,
    ...(sheet.mode ? { mode: sheet.mode } : {}),
    ...(sheet.pattern ? { pattern: sheet.pattern } : {}),
    form: sheet.form,
    repeats: sheet.repeats,
    groupOfBar: sheet.groupOfBar,
    findings: sheet.findings,
    ...(sheet.rhythm ? { rhythm: sheet.rhythm } : {}),
    ...(sheet.removed ? { removed: sheet.removed } : {}),
    ...(sheet.removedChords ? { removedChords: sheet.removedChords } : {}),
    ...(sheet.handSet ? { handSet: sheet.handSet } : {}),
    ...(sheet.showLeftHand ? { showLeftHand: true } : {}),
    ...(sheet.remarks ? { remarks: sheet.remarks } : {}),
  };
}

/** The document back to a sheet. @param value parsed JSON of unknown make
 * @throws PulgarError "bad-sheet" naming the path that is wrong */
export const sheetFromJson = (value: unknown): Sheet => readSheetJson(value);

const noteToJson = (note: SheetNote): object => ({
  ...(note.onsetSec === undefined ? {} : { onsetSec: note.onsetSec }),
  ...(note.offsetSec === undefined ? {} : { offsetSec: note.offsetSec }),
  midi: note.midi,
  string: note.string,
  fret: note.fret,
  ...(note.finger === undefined ? {} : { finger: note.finger }),
  ...(note.leftFinger === undefined ? {} : { leftFinger: note.leftFinger }),
  bar: note.bar,
  beat: 1 + note.tick / BEAT_TICKS,
  tick: note.tick,
  lengthTicks: note.lengthTicks,
  marks: note.marks,
  confidence: note.confidence,
  by: note.by,
  alternatives: note.alternatives,
  ...(note.velocity === undefined ? {} : { velocity: note.velocity }),
});
