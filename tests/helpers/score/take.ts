import type { Sheet } from "../../../src/sheet/sheet.js";
import { isUnsure } from "../../../src/sheet/token.js";
import { pitchClassOf } from "../takes/grips.js";
import type { TimedNote } from "../takes/perform.js";
import type { RenderedTake } from "../takes/take.js";
import { toSheet } from "../takes/to-sheet.js";
import { beatFMeasure } from "./beats.js";
import { scoreChords, type TimedChord } from "./chords.js";
import type { Prf } from "./match.js";
import { type ErrorKinds, errorKinds, matchNotes, type ScoredNote, scoreNotes } from "./notes.js";

/** True chords with their times, by the beats as played. */
export function trueChords(rendered: RenderedTake): TimedChord[] {
  const { study, performance } = rendered;
  const sheet = toSheet(study, performance);
  return sheet.chords.map((c) => {
    if (c.startSec === undefined || c.endSec === undefined)
      throw new Error(`bar ${c.bar}: a chord without its time`);
    return { startSec: c.startSec, endSec: c.endSec, symbol: c.symbol };
  });
}

/** Is the mode right? Where the notes leave two modes open, either of them counts, if the sheet says so in `undecided`. */
function modeRight(rendered: RenderedTake, mode: Sheet["mode"]): boolean {
  if (mode === undefined) return false;
  const truth = rendered.study.mode;
  if (pitchClassOf(mode.tonic) !== pitchClassOf(truth.tonic)) return false;
  const degreeNumber = (degree: string): string => degree.replace(/[b#]/g, "");
  const open = truth.undecided.filter((u) =>
    mode.undecided.some(
      (m) =>
        degreeNumber(m.missingDegree) === degreeNumber(u.missingDegree) &&
        u.between.every((name) => m.between.includes(name)),
    ),
  );
  if (truth.undecided.length === 0) return mode.mode === truth.mode;
  return open.length > 0 && (mode.mode === truth.mode || open.some((u) => u.between.includes(mode.mode)));
}

/** Share of matched notes whose bar and tick are right (a grace or rolled chord's notes count at their chord's tick). */
export function placementRate(
  ref: readonly TimedNote[],
  est: readonly (ScoredNote & { bar: number; tick: number })[],
): { rate: number; count: number } {
  const pairs = matchNotes(ref, est);
  const right = pairs.filter(([r, e]) => ref[r]?.bar === est[e]?.bar && ref[r]?.tick === est[e]?.tick).length;
  return { rate: pairs.length === 0 ? 0 : right / pairs.length, count: pairs.length };
}

/** All figures of one drafted sheet against the truth. `fingers`: p-i-m-a right among notes matched with their place. */
export type TakeScore = {
  onset: Prf;
  onsetOffset: Prf;
  place: Prf;
  placement: number;
  placeOfMatched: number;
  fingers: number;
  beatF: number;
  majmin: number;
  root: number;
  bass: number;
  modeRight: boolean;
  kinds: ErrorKinds;
  /** How many notes the sheet asks about: of those whose place is right too, of those right but elsewhere on the neck, of the false. */
  asked: { right: Share; misplaced: Share; false: Share };
};

type Share = { asked: number; all: number };

/** Scores a drafted sheet; notes without times (written by hand only) are left out. */
export function scoreSheet(rendered: RenderedTake, sheet: Sheet): TakeScore {
  const est = sheet.notes.flatMap((n) =>
    n.onsetSec === undefined
      ? []
      : [{ ...n, onsetSec: n.onsetSec, offsetSec: n.offsetSec ?? n.onsetSec + 0.1 }],
  );
  const ref = rendered.notes;
  const { onset, onsetOffset, place } = scoreNotes(ref, est);
  const pairs = matchNotes(ref, est);
  const placed = pairs.filter(([r, e]) => ref[r]?.string === est[e]?.string && ref[r]?.fret === est[e]?.fret);
  const fingered = placed.filter(([r, e]) => ref[r]?.finger === est[e]?.finger);
  const share = (list: readonly (typeof est)[number][]): Share => ({
    asked: list.filter(isUnsure).length,
    all: list.length,
  });
  const ofPairs = (list: typeof pairs): Set<number> => new Set(list.map(([, e]) => e));
  const [matched, right] = [ofPairs(pairs), ofPairs(placed)];
  const chords = sheet.chords.flatMap((c) =>
    c.startSec === undefined || c.endSec === undefined
      ? []
      : [{ startSec: c.startSec, endSec: c.endSec, symbol: c.symbol }],
  );
  return {
    onset,
    onsetOffset,
    place,
    placement: placementRate(ref, est).rate,
    placeOfMatched: pairs.length === 0 ? 0 : placed.length / pairs.length,
    fingers: placed.length === 0 ? 0 : fingered.length / placed.length,
    beatF: beatFMeasure(rendered.performance.beatSec, sheet.grid.beatSec),
    ...scoreChords(trueChords(rendered), chords),
    modeRight: modeRight(rendered, sheet.mode),
    kinds: errorKinds(ref, est),
    asked: {
      right: share(est.filter((_, e) => right.has(e))),
      misplaced: share(est.filter((_, e) => matched.has(e) && !right.has(e))),
      false: share(est.filter((_, e) => !matched.has(e))),
    },
  };
}
