// The hands against players' marks and against the truth of composed studies. The weights of the row "tuned on other pieces" are
// in hands-folds-table.ts, which says how they were found.
import { fretNotes } from "../../src/hands/search.js";
import { type Agreement, addAgreement, agreement, nothing } from "../helpers/hands/agreement.js";
import { lowestFret, nearestHand } from "../helpers/hands/baselines.js";
import { type FingeredPiece, fingeredPieces, isOverlaid } from "../helpers/hands/fingered.js";
import { type HearOptions, hear, scoreHeard } from "../helpers/hands/played.js";
import { hasShared } from "../helpers/needs.js";
import { namedStudies, studyBySeed } from "../helpers/takes/studies.js";
import type { BenchCase, Cell } from "./bench-case.js";
import { FOLD_WEIGHTS } from "./hands-folds-table.js";

const rate = ([right, of]: readonly [number, number]): number => (of === 0 ? 1 : right / of);

function markRow(name: string, a: Agreement): Cell[] {
  return [
    name,
    rate(a.strings),
    rate(a.open),
    rate(a.together),
    rate(a.order),
    a.unplayable[0],
    a.twoOnString,
    "",
    "",
  ];
}

/** Each piece under the weights that were tuned without it. */
function crossValidated(pieces: readonly FingeredPiece[]): Agreement {
  let sum = nothing();
  pieces.forEach((p, k) => {
    const weights = FOLD_WEIGHTS[k % FOLD_WEIGHTS.length];
    if (weights === undefined) return;
    sum = addAgreement(sum, agreement(p, fretNotes(p.notes, p.instrument, { weights })));
  });
  return sum;
}

const bench: BenchCase = {
  name: "hands",
  run: async ({ quick }) => {
    const rows: Cell[][] = [];
    if (hasShared("fingered")) {
      const all = fingeredPieces();
      const pieces = all.filter((p) => !isOverlaid(p));
      const sum = (list: readonly FingeredPiece[], how: (p: FingeredPiece) => Agreement): Agreement =>
        list.map(how).reduce(addAgreement, nothing());
      const shipped = (p: FingeredPiece): Agreement => agreement(p, fretNotes(p.notes, p.instrument));
      rows.push(
        markRow(
          "marks: lowest fret",
          sum(pieces, (p) => agreement(p, lowestFret(p.notes, p.instrument))),
        ),
        markRow(
          "marks: nearest hand",
          sum(pieces, (p) => agreement(p, nearestHand(p.notes, p.instrument))),
        ),
        markRow("marks: search, tuned on other pieces", crossValidated(pieces)),
        markRow("marks: search as shipped", sum(pieces, shipped)),
        markRow("marks: search as shipped, overlaid file too", sum(all, shipped)),
      );
    }
    const studies = [
      ...namedStudies(),
      ...Array.from({ length: quick ? 4 : 40 }, (_, k) => studyBySeed(k + 100)),
    ];
    const noise: [string, HearOptions][] = [
      ["studies: as played", {}],
      ["studies: rough listener, no string evidence", { missing: 0.03, extra: 0.02, offsetJitterSec: 0.3 }],
      [
        "studies: rough listener, strings 65 % right",
        { missing: 0.03, extra: 0.02, offsetJitterSec: 0.3, sharesRight: 0.65 },
      ],
      [
        "studies: rough listener, strings 75 % right",
        { missing: 0.03, extra: 0.02, offsetJitterSec: 0.3, sharesRight: 0.75 },
      ],
    ];
    for (const [name, options] of noise) {
      const place: [number, number] = [0, 0];
      const pick: [number, number] = [0, 0];
      for (const study of studies) {
        const heard = hear(study, options);
        const s = scoreHeard(
          heard,
          fretNotes(heard.notes, heard.instrument, { groupOfBar: study.groupOfBar }),
        );
        for (const k of [0, 1] as const) {
          place[k] += s.place[k];
          pick[k] += s.pick[k];
        }
      }
      rows.push([name, "", "", "", "", "", "", rate(place), rate(pick)]);
    }
    return {
      title: "Hands: agreement with players' marks, and with the truth of composed studies",
      columns: [
        "what",
        "string",
        "open",
        "order together",
        "order close",
        "unplayable",
        "two on string",
        "place",
        "pima",
      ],
      rows,
      notes: [
        "string, open: marked strings and marked open strings agreed. order: the higher marked finger is not on a lower fret,",
        "for fingers that sound together and for those that begin within about a quarter note.",
        "marks are written where a player leaves the obvious place: the lowest fret agrees with few of them.",
      ],
    };
  },
};

export default bench;
