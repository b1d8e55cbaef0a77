import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import type { PlacedNote } from "../../../src/grid/grid.js";
import type { Instrument } from "../../../src/hands/fretted.js";
import { SHARED } from "../needs.js";
import { mendedRows, type Row } from "./mend-rows.js";

/** A piece with the marks that its player or engraver wrote; index along `notes`. */
export type FingeredPiece = {
  file: string;
  instrument: Instrument;
  notes: PlacedNote[];
  marks: { string?: number; leftFinger?: number; rightFinger?: string }[];
};

export const QUARTER_SEC = 0.6; // the files hold no tempo: 100 quarters a minute
const BAR_QUARTERS = 4; // nor bars: the order of notes decides nearly all; bars of three where the rhythm says so changed no figure by more than 0.012

const ORNAMENT_QUARTERS = 0.5; // ornaments are engraved as eighths or shorter
const ORNAMENT_STEP = 2; // semitones from their main note

/** The files put ornaments at the onset of their main note, before it: short, a step away from a note that follows at the same beat,
 * and nothing goes on from their end. */
function isOrnament(rows: readonly Row[], k: number): boolean {
  const me = rows[k];
  if (me === undefined || me.beats > ORNAMENT_QUARTERS) return false;
  const end = me.beat + me.beats;
  if (rows.some((r) => Math.abs(r.beat - end) < 0.01)) return false;
  for (let j = k + 1; j < rows.length; j++) {
    const next = rows[j];
    if (next === undefined || next.beat !== me.beat) return false;
    const step = Math.abs(next.midi - me.midi);
    if (step > 0 && step <= ORNAMENT_STEP) return true;
  }
  return false;
}

/** All pieces of the fingered set, by file name. */
export function fingeredPieces(): FingeredPiece[] {
  const dir = join(SHARED, "fingered");
  return readdirSync(dir)
    .filter((f) => f.endsWith(".json"))
    .sort()
    .map((file) => {
      const d = JSON.parse(readFileSync(join(dir, file), "utf8")) as { openMidi: number[]; notes: Row[] };
      const { rows, openMidi = d.openMidi } = mendedRows(d.notes);
      const notes = rows.map((n, k): PlacedNote => {
        const bar = Math.floor(n.beat / BAR_QUARTERS) + 1;
        return {
          onsetSec: n.beat * QUARTER_SEC,
          offsetSec: (n.beat + n.beats) * QUARTER_SEC,
          midi: n.midi,
          confidence: 1,
          velocity: 0.5,
          bar,
          tick: Math.round((n.beat - (bar - 1) * BAR_QUARTERS) * 24),
          lengthTicks: Math.max(1, Math.round(n.beats * 24)),
          ...(isOrnament(rows, k) ? { grace: true } : {}),
        };
      });
      return {
        file,
        instrument: { openMidi, capo: 0, highestFret: 19, scaleLengthMm: 650 },
        notes,
        marks: rows.map((n) => ({
          ...(n.string === undefined ? {} : { string: n.string }),
          ...(n.leftFinger === undefined ? {} : { leftFinger: Number(n.leftFinger) }),
          ...(n.rightFinger === undefined
            ? {}
            : { rightFinger: "pima"[Number(n.rightFinger) - 1] ?? n.rightFinger }),
        })),
      };
    });
}
