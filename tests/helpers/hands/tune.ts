// Tunes the weights of the fretboard search: npx tsx tests/helpers/hands/tune.ts (a minute of processor time). Needs the fingered set. Learns
// (learn.ts) from players' strings and left fingers and from the strings of composed studies. Prints the weights that ship, learnt
// from all pieces, then a row for each fold, learnt without every fifth piece, and how the pieces left out agree.
import { HAND_WEIGHTS, type HandWeights } from "../../../src/hands/cost-table.js";
import { fretNotes } from "../../../src/hands/search.js";
import { studyBySeed } from "../takes/studies.js";
import { type Agreement, addAgreement, agreement, nothing } from "./agreement.js";
import { type FingeredPiece, fingeredPieces } from "./fingered.js";
import { LINEAR, learningLattice, type Mark } from "./lattices.js";
import { type Lesson, learn } from "./learn.js";
import { hear, scoreHeard } from "./played.js";

const FOLDS = 5;
const BEAM = 14;
const STUDIES = 12;
const FIRST_STUDY = 300; // seeds that no bench reports
const STUDY_SHARE = 0.2; // a note of a study beside a note of a player
const BEFORE_SEC = 5; // what leads to a marked note
const AFTER_SEC = 2.5;
const RISK_OF = [3, 2.4, 0.2]; // strings and open strings are few; fingers are many and a matter of taste
const PULL = 0.01;
const STEPS = 40;

// Where every fold begins, and the usual size of each weight: round numbers set by hand, so that no fold starts from what the others taught.
const START: readonly (readonly [(typeof LINEAR)[number], number, number])[] = [
  ["fret", 0.1, 0.1],
  ["high", 0.3, 0.15],
  ["bassHigh", 0.1, 0.1],
  ["open", -0.3, 0.3],
  ["openBass", 0, 0.3],
  ["openHigh", 0.2, 0.2],
  ["press", 0.3, 0.3],
  ["middle", 0.05, 0.15],
  ["ring", 0.1, 0.15],
  ["little", 0.25, 0.25],
  ["barre", 0.6, 0.6],
  ["barreString", 0.1, 0.1],
  ["stretch", 1, 1],
  ["bunch", 0.15, 0.15],
  ["overComfort", 0.8, 0.8],
  ["shift", 0.5, 0.5],
  ["leap", 0.8, 0.8],
  ["hop", 1, 1],
  ["cut", 6, 2],
  ["back", 2, 2],
  ["echo", 1, 1],
  ["cross", 0, 0.3],
  ["crossOpen", 0, 0.3],
  ["crossHigh", 0.2, 0.3],
  ["elsewhere", 0.3, 0.3],
  ["order", 1, 1],
  ["bass", 0.1, 0.1],
];
const SIGNED = ["open", "openBass", "openHigh", "cross", "crossOpen", "crossHigh", "middle", "ring", "bass"];

type Excerpt = Pick<FingeredPiece, "notes" | "instrument"> & { marks: (Mark | undefined)[]; share: number };

/** The parts of a piece that marks speak of; the rest costs time and tells nothing. */
function aroundMarks({ notes, marks, instrument }: FingeredPiece): Excerpt {
  const said = (m: Mark | undefined): boolean => m?.string !== undefined || m?.leftFinger !== undefined;
  const marked = notes.filter((_, k) => said(marks[k])).map((n) => n.onsetSec);
  const kept = notes.flatMap((n, k) =>
    marked.some((t) => n.onsetSec > t - BEFORE_SEC && n.onsetSec < t + AFTER_SEC) ? [k] : [],
  );
  return {
    notes: kept.flatMap((k) => notes[k] ?? []),
    marks: kept.map((k) => marks[k]),
    instrument,
    share: 1,
  };
}

function composed(): Excerpt[] {
  return Array.from({ length: STUDIES }, (_, k) => {
    const heard = hear(studyBySeed(FIRST_STUDY + k), { missing: 0.02, extra: 0.01, offsetJitterSec: 0.15 });
    const marks = heard.truth.map((t) => (t === undefined ? undefined : { string: t.string }));
    return { ...heard, marks, share: STUDY_SHARE };
  });
}

const column = (at: 1 | 2): Float64Array =>
  Float64Array.from(LINEAR, (name) => START.find((row) => row[0] === name)?.[at] ?? 0);

const named = (w: Float64Array): Partial<HandWeights> =>
  Object.fromEntries(LINEAR.map((name, k) => [name, Number((w[k] ?? 0).toFixed(3))]));

const rate = ([right, of]: [number, number]): string => (of === 0 ? "none" : (right / of).toFixed(3));
const line = (a: Agreement): string =>
  `strings ${rate(a.strings)} open ${rate(a.open)} together ${rate(a.together)} close ${rate(a.order)} fingers ${rate(a.leftFinger)}`;

function main(): void {
  const pieces = fingeredPieces();
  const under = { ...HAND_WEIGHTS, ...named(column(1)) };
  const lessonOf = (e: Excerpt): Lesson => ({
    lattice: learningLattice(e.notes, e.instrument, e.marks, under, BEAM),
    share: e.share,
  });
  const marked = pieces.map((p) => lessonOf(aroundMarks(p)));
  const studies = composed().map(lessonOf);
  const isSigned = LINEAR.map((name) => SIGNED.includes(name));
  const learnt = (isTaught: (pieceIdx: number) => boolean): Partial<HandWeights> =>
    named(
      learn([...marked.filter((_, k) => isTaught(k)), ...studies], {
        riskOf: RISK_OF,
        pull: PULL,
        steps: STEPS,
        start: column(1),
        scale: column(2),
        isSigned,
      }),
    );
  const score = (list: readonly FingeredPiece[], weights: Partial<HandWeights>): Agreement =>
    list
      .map((p) => agreement(p, fretNotes(p.notes, p.instrument, { weights })))
      .reduce(addAgreement, nothing());
  const shipped = learnt(() => true);
  console.log(JSON.stringify(shipped));
  console.log("learnt from", line(score(pieces, shipped)));
  const place: [number, number] = [0, 0];
  for (let k = 0; k < STUDIES; k++) {
    const study = studyBySeed(FIRST_STUDY + 50 + k);
    const heard = hear(study, { missing: 0.03, extra: 0.02, offsetJitterSec: 0.3 });
    const fretted = fretNotes(heard.notes, heard.instrument, {
      weights: shipped,
      groupOfBar: study.groupOfBar,
    });
    scoreHeard(heard, fretted).place.forEach((n, at) => {
      place[at] = (place[at] ?? 0) + n;
    });
  }
  console.log("studies, roughly heard", rate(place));
  let held = nothing();
  for (let fold = 0; fold < FOLDS; fold++) {
    const weights = learnt((k) => k % FOLDS !== fold);
    const left = score(
      pieces.filter((_, k) => k % FOLDS === fold),
      weights,
    );
    console.log(JSON.stringify(weights), line(left));
    held = addAgreement(held, left);
  }
  console.log("left out", line(held));
}

main();
