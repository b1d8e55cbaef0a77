// Tunes the weights of the fretboard search: npx tsx tests/helpers/hands/tune.ts [--steps N] [--seed N] [--fold K | --all]
// [--start JSON]. Needs the fingered set. A random walk over the logarithms of the weights: a step is kept when the training
// pieces agree better with their players' marks while composed studies stay right. With --fold K (0…4) every fifth piece is left
// out and scored at the end; with --all everything trains (the weights that ship). Prints the weights as JSON.
import { HAND_WEIGHTS, type HandWeights } from "../../../src/hands/cost-table.js";
import { fretNotes } from "../../../src/hands/search.js";
import { makeRng } from "../takes/rng.js";
import { namedStudies, studyBySeed } from "../takes/studies.js";
import { type Agreement, addAgreement, agreement, nothing } from "./agreement.js";
import { type FingeredPiece, fingeredPieces, isOverlaid } from "./fingered.js";
import { type Heard, hear, scoreHeard } from "./played.js";

export const FOLDS = 5;
const FREE: readonly (keyof HandWeights)[] = [
  "fret",
  "open",
  "openHigh",
  "press",
  "little",
  "barre",
  "stretch",
  "bunch",
  "overComfort",
  "shift",
  "leap",
  "guide",
  "hop",
  "cut",
  "echo",
  "order",
  "bass",
];
const arg = (name: string): string | undefined => {
  const at = process.argv.indexOf(name);
  return at < 0 ? undefined : process.argv[at + 1];
};

export function agreementOf(pieces: readonly FingeredPiece[], weights: Partial<HandWeights>): Agreement {
  let sum = nothing();
  for (const p of pieces)
    sum = addAgreement(sum, agreement(p, fretNotes(p.notes, p.instrument, { weights })));
  return sum;
}

const rate = ([right, of]: [number, number]): number => (of === 0 ? 1 : right / of);

export function studyRate(heard: readonly Heard[], weights: Partial<HandWeights>): number {
  let right = 0;
  let of = 0;
  for (const h of heard) {
    const { place } = scoreHeard(
      h,
      fretNotes(h.notes, h.instrument, { weights, groupOfBar: h.study.groupOfBar }),
    );
    right += place[0];
    of += place[1];
  }
  return right / of;
}

/** Shortfalls from the targets count fully, what lies beyond them a little. */
function worth(a: Agreement, studies: number): number {
  const part = (x: number, target: number): number => 4 * Math.min(0, x - target) + 0.5 * x;
  return (
    part(rate(a.strings), 0.85) +
    part(rate(a.open), 0.95) +
    1.5 * part(rate(a.order), 0.97) +
    2 * part(studies, 0.97)
  );
}

const BEFORE_SEC = 6; // what leads to a marked note
const AFTER_SEC = 3;

/** The parts of a piece that marks speak of; the rest costs time and tells nothing. */
function aroundMarks(piece: FingeredPiece): FingeredPiece {
  const marked = piece.notes
    .filter((_, k) => Object.keys(piece.marks[k] ?? {}).length > 0)
    .map((n) => n.onsetSec);
  const kept = piece.notes.flatMap((n, k) =>
    marked.some((t) => n.onsetSec > t - BEFORE_SEC && n.onsetSec < t + AFTER_SEC) ? [k] : [],
  );
  return {
    ...piece,
    notes: kept.flatMap((k) => piece.notes[k] ?? []),
    marks: kept.map((k) => piece.marks[k] ?? {}),
  };
}

function tune(): void {
  const steps = Number(arg("--steps") ?? 120);
  const rng = makeRng(`tune ${arg("--seed") ?? "1"}`);
  const fold = arg("--fold");
  const whole = fingeredPieces().filter((p) => !isOverlaid(p));
  const pieces = whole.map(aroundMarks);
  const train = fold === undefined ? pieces : pieces.filter((_, k) => k % FOLDS !== Number(fold));
  const held = fold === undefined ? [] : whole.filter((_, k) => k % FOLDS === Number(fold));
  const heard = [
    ...namedStudies().slice(0, 8),
    ...Array.from({ length: 8 }, (_, k) => studyBySeed(k + 300)),
  ].map((s) => hear(s, { missing: 0.02, extra: 0.01, offsetJitterSec: 0.15 }));
  let best: HandWeights = {
    ...HAND_WEIGHTS,
    ...(JSON.parse(arg("--start") ?? "{}") as Partial<HandWeights>),
  };
  const score = (w: HandWeights): [number, Agreement, number] => {
    const a = agreementOf(train, { ...w, pattern: 0 });
    const s = studyRate(heard, w);
    return [worth(a, s), a, s];
  };
  let [bestWorth, bestAgreement, bestStudies] = score(best);
  for (let step = 0; step < steps; step++) {
    const next = { ...best };
    const width = step < steps / 2 ? 0.7 : 0.3;
    for (const name of FREE) {
      if (rng.next() > 0.3) continue;
      const move = Math.exp((rng.next() * 2 - 1) * width);
      next[name] = name === "open" ? next.open + (rng.next() * 2 - 1) * width * 0.6 : next[name] * move;
    }
    const [w, a, s] = score(next);
    if (w <= bestWorth) continue;
    [best, bestWorth, bestAgreement, bestStudies] = [next, w, a, s];
    console.error(step, w.toFixed(4), line(a), s.toFixed(4), rounded(best));
  }
  console.log(rounded(best));
  console.log("train", line(bestAgreement), "studies", bestStudies.toFixed(4));
  if (held.length > 0) {
    const a = agreementOf(held, { ...best, pattern: 0 });
    console.log("held out", JSON.stringify(a), line(a));
  }
}

const rounded = (w: HandWeights): string =>
  JSON.stringify(Object.fromEntries(Object.entries(w).map(([k, v]) => [k, Number(v.toFixed(3))])));

const line = (a: Agreement): string =>
  `strings ${rate(a.strings).toFixed(3)} open ${rate(a.open).toFixed(3)} order ${rate(a.order).toFixed(3)}`;

if (process.argv[1]?.endsWith("tune.ts")) tune();
