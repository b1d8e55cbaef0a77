// Tunes the weights of the fretboard search: npx tsx tests/helpers/hands/tune.ts [--steps N] [--fold K] [--walk | --from JSON].
// Needs the fingered set. First climbs the likelihood (likelihood.ts) of players' marks and of the strings of composed studies by
// Adam, some pieces a step; then tries each of a few weights a step up and a step down against the figures that are reported.
// With --fold K (0…4) every fifth piece is left out and scored at the end; without it everything trains (the weights that ship).
// --walk stops after the first part, --from begins the second from given weights. Prints the weights as JSON.
import { HAND_WEIGHTS, type HandWeights } from "../../../src/hands/cost-table.js";
import { fretNotes } from "../../../src/hands/search.js";
import { makeRng } from "../takes/rng.js";
import { studyBySeed } from "../takes/studies.js";
import { type Agreement, addAgreement, agreement, nothing } from "./agreement.js";
import { type FingeredPiece, fingeredPieces, isOutOfStep, isOverlaid } from "./fingered.js";
import { LINEAR, type Mark, markLikelihood } from "./likelihood.js";
import { hear, scoreHeard } from "./played.js";

export const FOLDS = 5;
const PIECES_A_STEP = 7;
const STUDIES_A_STEP = 4;
const STRINGS_SHARE = 2; // pieces with marked strings: there are few
const STUDY_SHARE = 0.6; // composed studies weigh this much beside players
const STUDIES_TO_POLISH = 10;
const RATE = 0.08; // of Adam, falling to a tenth
const FIRST_STUDY = 300; // seeds that no bench reports
const BEFORE_SEC = 6; // what leads to a marked note
const AFTER_SEC = 3;

// Where every walk begins: round numbers set by hand, so that no fold starts from what the others taught.
const START: Partial<HandWeights> = {
  fret: 0.05,
  open: -0.3,
  openHigh: 0.2,
  press: 0.25,
  little: 0.1,
  barre: 0.7,
  barreString: 0.1,
  stretch: 0.8,
  bunch: 0.15,
  overComfort: 0.7,
  shift: 0.4,
  leap: 0.6,
  hop: 1,
  cut: 5,
  back: 2,
  echo: 1,
  elsewhere: 0.3,
  order: 1,
  bass: 0.1,
};

const arg = (name: string): string | undefined => {
  const at = process.argv.indexOf(name);
  return at < 0 ? undefined : process.argv[at + 1];
};

type Lesson = Pick<FingeredPiece, "notes" | "instrument"> & { marks: (Mark | undefined)[]; share: number };
type Excerpt = Lesson & Pick<FingeredPiece, "marks">;

/** The parts of a piece that marks speak of; the rest costs time and tells nothing. */
function aroundMarks({ notes, marks, instrument }: FingeredPiece): Excerpt {
  const said = (m: Mark | undefined): boolean => m?.string !== undefined || m?.leftFinger !== undefined;
  const marked = notes.filter((_, k) => said(marks[k])).map((n) => n.onsetSec);
  const kept = notes.flatMap((n, k) =>
    marked.some((t) => n.onsetSec > t - BEFORE_SEC && n.onsetSec < t + AFTER_SEC) ? [k] : [],
  );
  return {
    notes: kept.flatMap((k) => notes[k] ?? []),
    marks: kept.map((k) => marks[k] ?? {}),
    instrument,
    share: marks.some((m) => m.string !== undefined) ? STRINGS_SHARE : 1,
  };
}

function tune(): HandWeights {
  const rng = makeRng("tune");
  const steps = Number(arg("--steps") ?? 16);
  const fold = arg("--fold");
  const whole = fingeredPieces().filter((p) => !isOverlaid(p));
  const train = whole.filter((p, k) => (fold === undefined || k % FOLDS !== Number(fold)) && !isOutOfStep(p));
  const pieces = train.map(aroundMarks).filter((p) => p.notes.length > 0);
  const heard = Array.from({ length: 24 }, (_, k) => studyBySeed(FIRST_STUDY + k))
    .map((s) => hear(s, { missing: 0.02, extra: 0.01, offsetJitterSec: 0.15 }))
    .map(
      (h): Lesson => ({
        ...h,
        marks: h.truth.map((t) => (t === undefined ? undefined : { string: t.string })),
        share: STUDY_SHARE,
      }),
    );
  const draw = (from: readonly Lesson[], count: number): Lesson[] =>
    [...from]
      .map((l) => ({ l, at: rng.next() }))
      .sort((a, b) => a.at - b.at)
      .slice(0, count)
      .map(({ l }) => l);
  const from = arg("--from");
  let w: HandWeights = { ...HAND_WEIGHTS, ...START, ...(JSON.parse(from ?? "{}") as Partial<HandWeights>) };
  if (from !== undefined) return polished(w, train, heard);
  const mean = new Float64Array(LINEAR.length);
  const square = new Float64Array(LINEAR.length);
  for (let step = 1; step <= steps; step++) {
    const sum = new Float64Array(LINEAR.length);
    let value = 0;
    let notes = 0;
    for (const l of [...draw(pieces, PIECES_A_STEP), ...draw(heard, STUDIES_A_STEP)]) {
      const found = markLikelihood(l.notes, l.instrument, l.marks, w);
      value += l.share * found.value;
      notes += l.share * l.marks.filter((m) => m !== undefined).length;
      found.gradient.forEach((g, k) => {
        sum[k] = (sum[k] ?? 0) + l.share * g;
      });
    }
    const rate = RATE * 0.1 ** (step / steps);
    const next = { ...w };
    LINEAR.forEach((name, k) => {
      const g = (sum[k] ?? 0) / notes;
      mean[k] = 0.8 * (mean[k] ?? 0) + 0.2 * g;
      square[k] = 0.95 * (square[k] ?? 0) + 0.05 * g * g;
      const m = (mean[k] ?? 0) / (1 - 0.8 ** step);
      const s = Math.sqrt((square[k] ?? 0) / (1 - 0.95 ** step));
      const scale = Math.max(0.1, Math.abs(START[name] ?? 0));
      const moved = w[name] + rate * scale * (m / (s + 1e-6));
      next[name] = name === "open" ? moved : Math.max(0, moved);
    });
    w = next;
    if (step % 10 === 0) console.error(step, (value / notes).toFixed(4), rounded(w));
  }
  return process.argv.includes("--walk") ? w : polished(w, train, heard);
}

const POLISHED: readonly (keyof HandWeights)[] = ["openHigh", "fret", "order", "stretch"];
const STEP = 1.5; // one step up; down is its inverse

/** Shortfalls from the targets count fully, what lies beyond them a little. */
function worth(w: HandWeights, pieces: readonly FingeredPiece[], studies: readonly Lesson[]): number {
  const a = pieces
    .map((p) => agreement(p, fretNotes(p.notes, p.instrument, { weights: w })))
    .reduce(addAgreement, nothing());
  let right = 0;
  let of = 0;
  for (const { notes, instrument, marks } of studies)
    fretNotes(notes, instrument, { weights: w }).forEach((n, k) => {
      const mark = marks[k];
      if (mark === undefined) return;
      of++;
      if (mark.string === n.string) right++;
    });
  const part = (x: number, target: number): number => 4 * Math.min(0, x - target) + 0.5 * x;
  const share = ([r, n]: [number, number]): number => (n === 0 ? 1 : r / n);
  return (
    part(share(a.strings), 0.85) +
    part(share(a.open), 0.95) +
    1.5 * part(share(a.order), 0.97) +
    2 * part(right / of, 0.97)
  );
}

function polished(
  from: HandWeights,
  pieces: readonly FingeredPiece[],
  heard: readonly Lesson[],
): HandWeights {
  const around = pieces.map((p) => ({ ...p, ...aroundMarks(p) }));
  const studies = heard.slice(0, STUDIES_TO_POLISH);
  let best = from;
  let bestWorth = worth(best, around, studies);
  for (const name of POLISHED)
    for (const factor of [1 / STEP, STEP]) {
      const next = { ...best, [name]: best[name] * factor };
      const value = worth(next, around, studies);
      if (value <= bestWorth) continue;
      [best, bestWorth] = [next, value];
      console.error(name, factor.toFixed(2), value.toFixed(4));
      break;
    }
  return best;
}

const rounded = (w: HandWeights): string =>
  JSON.stringify(Object.fromEntries(Object.entries(w).map(([k, v]) => [k, Number(v.toFixed(3))])));
const rate = ([right, of]: [number, number]): string => (of === 0 ? "none" : (right / of).toFixed(3));
const line = (a: Agreement): string =>
  `strings ${rate(a.strings)} open ${rate(a.open)} together ${rate(a.together)} order ${rate(a.order)}`;

if (process.argv[1]?.endsWith("tune.ts")) {
  const weights = tune();
  console.log(rounded(weights));
  const fold = arg("--fold");
  const whole = fingeredPieces().filter((p) => !isOverlaid(p));
  const score = (held: boolean): Agreement =>
    whole
      .filter((_, k) => (fold !== undefined && k % FOLDS === Number(fold)) === held)
      .map((p) => agreement(p, fretNotes(p.notes, p.instrument, { weights })))
      .reduce(addAgreement, nothing());
  console.log("trained on", line(score(false)));
  if (fold !== undefined) console.log("held out", JSON.stringify(score(true)), line(score(true)));
  const seen = Array.from({ length: 12 }, (_, k) => studyBySeed(FIRST_STUDY + 50 + k)).map((s) => {
    const h = hear(s);
    return scoreHeard(h, fretNotes(h.notes, h.instrument, { weights, groupOfBar: s.groupOfBar }));
  });
  const sum = (at: 0 | 1): number => seen.reduce((n, { place }) => n + place[at], 0);
  console.log("studies", rate([sum(0), sum(1)]));
}
