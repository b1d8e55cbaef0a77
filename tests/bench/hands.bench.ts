// The hands against players' marks and against the truth of composed studies. The weights of the row "tuned on other pieces" are
// in hands-folds-table.ts, which says how they were found.
import type { HandWeights } from "../../src/hands/cost-table.js";
import type { FrettedNote, LeftFinger, Lock } from "../../src/hands/fretted.js";
import { fretNotes } from "../../src/hands/search.js";
import { type Agreement, addAgreement, agreement, nothing } from "../helpers/hands/agreement.js";
import { lowestFret, nearestHand } from "../helpers/hands/baselines.js";
import { type FingeredPiece, fingeredPieces } from "../helpers/hands/fingered.js";
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
    "",
  ];
}

/** How far confidences are from the shares that were right: expected calibration error over ten bins (Guo et al. 2017), of the notes
 * that could lie in more than one place. */
function trustBins(): { add: (confidence: number, isRight: boolean) => void; offBy: () => number } {
  const bins = Array.from({ length: 10 }, () => ({ confidence: 0, right: 0, count: 0 }));
  return {
    add: (confidence, isRight) => {
      const bin = bins[Math.min(9, Math.floor(confidence * 10))];
      if (bin === undefined) return;
      bin.confidence += confidence;
      bin.right += Number(isRight);
      bin.count++;
    },
    offBy: () => {
      const count = bins.reduce((n, b) => n + b.count, 0);
      return bins.reduce((sum, b) => sum + Math.abs(b.confidence - b.right), 0) / Math.max(1, count);
    },
  };
}

type Judge = (piece: FingeredPiece, weights: Partial<HandWeights>) => Agreement;
const plain: Judge = (p, weights) => agreement(p, fretNotes(p.notes, p.instrument, { weights }));

/** Each piece under the weights that were tuned without it. */
function crossValidated(pieces: readonly FingeredPiece[], judge: Judge): Agreement {
  return pieces
    .map((p, k) => judge(p, FOLD_WEIGHTS[k % FOLD_WEIGHTS.length] ?? {}))
    .reduce(addAgreement, nothing());
}

/** What the search makes of a piece when the player's own left fingers are given, as MusicXML with fingerings holds them. */
function withFingers(p: FingeredPiece, weights: Partial<HandWeights>): FrettedNote[] {
  const locks = p.notes.flatMap(({ bar, tick, midi }, k): Lock[] => {
    const leftFinger = p.marks[k]?.leftFinger as LeftFinger | undefined;
    return leftFinger === undefined ? [] : [{ bar, tick, midi, leftFinger }];
  });
  return fretNotes(p.notes, p.instrument, { weights, locks });
}

const AROUND_SEC = 8; // what lies further away has no say in a note

/** Marked strings, each decided while all others are locked: what a teacher gets who has settled a few places. Two voices on one
 * note are one place. */
function leaveOneOut(p: FingeredPiece, weights: Partial<HandWeights>): Agreement {
  const out = nothing();
  const keyOf = (k: number): string => `${p.notes[k]?.bar}|${p.notes[k]?.tick}|${p.notes[k]?.midi}`;
  p.marks.forEach((mark, asked) => {
    const at = p.notes[asked]?.onsetSec;
    if (mark.string === undefined || at === undefined) return;
    const near = p.notes.flatMap((n, k) => (Math.abs(n.onsetSec - at) < AROUND_SEC ? [k] : []));
    const locks = near.flatMap((k): Lock[] => {
      const [note, string] = [p.notes[k], p.marks[k]?.string];
      if (note === undefined || string === undefined || keyOf(k) === keyOf(asked)) return [];
      return [{ bar: note.bar, tick: note.tick, midi: note.midi, string }];
    });
    const notes = near.flatMap((k) => p.notes[k] ?? []);
    const found = fretNotes(notes, p.instrument, { weights, locks })[near.indexOf(asked)];
    out.strings[1]++;
    if (found?.string === mark.string) out.strings[0]++;
  });
  return out;
}

const bench: BenchCase = {
  name: "hands",
  run: async ({ quick }) => {
    const rows: Cell[][] = [];
    if (hasShared("fingered")) {
      const pieces = fingeredPieces();
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
        markRow("marks: search, tuned on other pieces", crossValidated(pieces, plain)),
        markRow(
          "  with the player's left fingers given",
          crossValidated(pieces, (p, w) => agreement(p, withFingers(p, w))),
        ),
        [
          "  with the other marked strings locked",
          rate(crossValidated(pieces, leaveOneOut).strings),
          ...new Array<Cell>(8).fill(""),
        ],
        markRow("marks: search as shipped", sum(pieces, shipped)),
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
      const trust = trustBins();
      for (const study of studies) {
        const heard = hear(study, options);
        const fretted = fretNotes(heard.notes, heard.instrument, { groupOfBar: study.groupOfBar });
        const s = scoreHeard(heard, fretted);
        heard.truth.forEach((t, k) => {
          const n = fretted[k];
          if (t === undefined || n === undefined || n.alternatives.length === 0) return;
          trust.add(n.placeConfidence, n.string === t.string && n.fret === t.fret);
        });
        for (const k of [0, 1] as const) {
          place[k] += s.place[k];
          pick[k] += s.pick[k];
        }
      }
      rows.push([name, "", "", "", "", "", "", rate(place), rate(pick), trust.offBy()]);
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
        "confidence off by",
      ],
      rows,
      notes: [
        "string, open: marked strings and marked open strings agreed. order: the higher marked finger is not on a lower fret,",
        "for fingers that sound together and for those that begin within about a quarter note.",
        "fingers given, strings locked: what the search makes of a score that holds the player's own marks (see the code).",
        "marks are written where a player leaves the obvious place: the lowest fret agrees with few of them.",
      ],
    };
  },
};

export default bench;
