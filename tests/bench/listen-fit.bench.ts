// Fits the listener's card on guitars that its weights never heard: calibration, picking threshold, temperature and claim of strings.
// Each run of the training that left guitars out is a folder with listener.onnx and card.json (calibration: onset 1, all else 0; strings 1, 0);
// `--left-out=FOLDER:guitar,guitar` once for each. Studies by seeds that no other bench uses; no test guitar is heard here.
import { openListener } from "../../cli/listener-runtime.js";
import { sigmoid } from "../../src/base/numbers.js";
import { JUDGE_TERMS, type JudgeTerm, judge, judgeTerms } from "../../src/notes/judge.js";
import { listen } from "../../src/notes/listen.js";
import { matchNotes } from "../helpers/score/notes.js";
import { throughAac } from "../helpers/takes/aac.js";
import { perform } from "../helpers/takes/perform.js";
import { render } from "../helpers/takes/render.js";
import { makeRng } from "../helpers/takes/rng.js";
import { studyBySeed } from "../helpers/takes/studies.js";
import { loadTrainingGuitar } from "../helpers/takes/training-guitars.js";
import type { BenchCase, BenchTable, Cell } from "./bench-case.js";

const FIRST_SEED = 41000;
const TAKES_A_GUITAR = 22; // clean and hard: a minute and a half a guitar
/** Of the notes whose string is claimed this share must be right on the left-out guitars: 0.75 is wanted on others. */
const CLAIM_RIGHT = 0.8;

/** In counts of onsets: weights that little speaks for stay small. */
const RIDGE: number = 1;

/** What speaks for an onset, and whether a note was there. */
type Onset = { guitar: string; terms: Record<JudgeTerm, number>; right: boolean };
/** Log shares of a matched note's strings and the string (0…5) that sounded; `fits` the strings that could. */
type StringSaid = { logShares: number[]; string: number; fits: boolean[] };

async function hearGuitar(
  folder: string,
  guitar: string,
  count: number,
): Promise<{ onsets: Onset[]; strings: StringSaid[]; played: number; rows: Cell[][] }> {
  const listener = await openListener({ folder });
  const bank = await loadTrainingGuitar(guitar);
  const out = { onsets: [] as Onset[], strings: [] as StringSaid[], played: 0, rows: [] as Cell[][] };
  for (let k = 0; k < count; k++)
    for (const hard of [false, true]) {
      const seed = FIRST_SEED + [...guitar].reduce((a, c) => (a * 31 + c.charCodeAt(0)) % 997, 7) * 10 + k;
      const study = studyBySeed(seed);
      const tuningCents = hard ? (makeRng(`fit ${seed}`).next() * 2 - 1) * 20 : 0;
      const done = render(
        perform(study, { seed, jitterMs: hard ? 12 : 5, drift: hard ? 0.03 : 0.005 }),
        bank,
        { seed, tuningCents, roomT60Sec: hard ? 0.6 : 0, noiseDb: hard ? 30 : 70 },
      );
      const take = hard ? throughAac(done.take, 96) : done.take;
      const heard = await listen(take, listener.run, { card: listener.card });
      const said = [...heard.notes, ...heard.candidates];
      const pairs = matchNotes(done.notes, said);
      const hit = new Set(pairs.map(([, e]) => e));
      const { evidence } = heard;
      said.forEach((n, idx) => {
        const pitchIdx = n.midi - evidence.lowestMidi;
        const onsetAt = (f: number): number => evidence.onset[f * evidence.pitchCount + pitchIdx] ?? -128;
        const near = Math.round(n.onsetSec / evidence.frameSec); // the peak lies half a frame off at most
        const frame = [near - 1, near, near + 1].reduce((a, f) => (onsetAt(f) > onsetAt(a) ? f : a), near);
        const terms = judgeTerms(evidence, frame, pitchIdx, n.velocity);
        out.onsets.push({ guitar, terms, right: hit.has(idx) });
      });
      out.played += done.notes.length;
      const open = study.openMidi.map((m) => m + study.capo).reverse();
      for (const [r, e] of pairs) {
        const note = done.notes[r]!;
        const shares = said[e]!.stringShares;
        if (shares === undefined || said[e]!.confidence < 0.5) continue;
        const fits = open.map((o) => note.midi >= o && note.midi - o <= 15);
        out.strings.push({
          logShares: shares.map((s) => Math.log(Math.max(1e-9, s))),
          string: note.string - 1,
          fits,
        });
      }
      const right = matchNotes(done.notes, heard.notes).length;
      const f1 = (2 * right) / (done.notes.length + heard.notes.length);
      out.rows.push([
        guitar,
        study.name,
        hard ? "hard" : "clean",
        done.notes.length,
        f1,
        right / heard.notes.length,
        right / done.notes.length,
      ]);
    }
  await listener.close();
  return out;
}

/** Weights of the terms by logistic regression with a ridge (Cox 1958), Newton's method. */
function fitJudge(onsets: readonly Onset[]): Record<JudgeTerm, number> {
  const rows = onsets.map((o) => ({ x: JUDGE_TERMS.map((name) => o.terms[name]), right: Number(o.right) }));
  let weights: number[] = JUDGE_TERMS.map(() => 0);
  for (let round = 0; round < 50; round++) {
    const slope = weights.map((w) => -RIDGE * w);
    const bend = weights.map((_, i) => weights.map((__, j) => (i === j ? RIDGE : 0)));
    for (const { x, right } of rows) {
      const p = sigmoid(x.reduce((sum, v, k) => sum + v * weights[k]!, 0));
      x.forEach((v, i) => {
        slope[i] = slope[i]! + v * (right - p);
        x.forEach((u, j) => {
          bend[i]![j] = bend[i]![j]! + p * (1 - p) * v * u;
        });
      });
    }
    const step = solve(bend, slope);
    weights = weights.map((w, k) => w + step[k]!);
    if (Math.max(...step.map(Math.abs)) < 1e-6) break;
  }
  return Object.fromEntries(JUDGE_TERMS.map((name, k) => [name, weights[k]!])) as Record<JudgeTerm, number>;
}

/** Solves a positive definite system by elimination. */
function solve(matrix: readonly (readonly number[])[], right: readonly number[]): number[] {
  const rows = matrix.map((row, k) => [...row, right[k]!]);
  const n = rows.length;
  for (let i = 0; i < n; i++)
    for (let j = 0; j < n; j++) {
      if (i === j) continue;
      const share = rows[j]![i]! / rows[i]![i]!;
      for (let k = i; k <= n; k++) rows[j]![k] = rows[j]![k]! - share * rows[i]![k]!;
    }
  return rows.map((row, k) => row[n]! / row[k]!);
}

const sharesAt = (logShares: readonly number[], temperature: number): number[] => {
  const weights = logShares.map((x) => Math.exp(x / temperature));
  const sum = weights.reduce((p, q) => p + q, 0);
  return weights.map((w) => w / sum);
};

/** The temperature of least cross-entropy, by steps of 0.02. */
function temperatureOf(said: readonly StringSaid[]): number {
  const cost = (t: number): number =>
    said.reduce((sum, s) => sum - Math.log(Math.max(1e-9, sharesAt(s.logShares, t)[s.string]!)), 0);
  let best = 1;
  for (let t = 0.5; t <= 4; t += 0.02) if (cost(t) < cost(best)) best = t;
  return best;
}

/** Shares named and right at a claim, of the notes playable on two or more strings. */
function claimed(
  said: readonly StringSaid[],
  temperature: number,
  claim: number,
): { named: number; right: number } {
  const open = said.filter((s) => s.fits.filter(Boolean).length >= 2);
  let named = 0;
  let right = 0;
  for (const s of open) {
    const shares = sharesAt(s.logShares, temperature);
    if (Math.max(...shares) < claim) continue;
    named++;
    const playable = shares.map((x, k) => (s.fits[k] ? x : 0));
    if (playable.indexOf(Math.max(...playable)) === s.string) right++;
  }
  return { named: named / Math.max(1, open.length), right: right / Math.max(1, named) };
}

async function run({ quick, flags, log }: Parameters<BenchCase["run"]>[0]): Promise<BenchTable> {
  const rows: Cell[][] = [];
  const onsets: Onset[] = [];
  const said: StringSaid[] = [];
  let played = 0;
  for (const flag of flags.filter((f) => f.startsWith("--left-out="))) {
    const [folder = "", guitars = ""] = flag.slice("--left-out=".length).split(":");
    for (const guitar of guitars.split(",")) {
      const heard = await hearGuitar(folder, guitar, quick ? 1 : TAKES_A_GUITAR);
      onsets.push(...heard.onsets);
      said.push(...heard.strings);
      played += heard.played;
      rows.push(...heard.rows);
      log(heard.rows.map((r) => `${r[0]} ${r[2]} ${(r[4] as number).toFixed(4)}`).join(", "));
    }
  }
  const notes: string[] = [];
  if (onsets.length > 0) {
    // Each guitar is judged by weights fitted on the others: so the picking threshold is of guitars that nothing was fitted on.
    const sure = [...new Set(onsets.map((o) => o.guitar))].flatMap((guitar) => {
      const weights = fitJudge(onsets.filter((o) => o.guitar !== guitar));
      return onsets
        .filter((o) => o.guitar === guitar)
        .map((o) => ({ confidence: judge(o.terms, weights), right: o.right }));
    });
    const byPeak = onsets.map((o) => ({ confidence: sigmoid(o.terms.onset), right: o.right }));
    const f1At = (list: typeof sure, x: number): number => {
      const picked = list.filter((o) => o.confidence >= x);
      return (2 * picked.filter((o) => o.right).length) / (picked.length + played);
    };
    const steps = Array.from({ length: 86 }, (_, k) => (k + 10) / 100);
    const bestOf = (list: typeof sure): number =>
      steps.reduce((a, x) => (f1At(list, x) > f1At(list, a) ? x : a));
    const [best, bestByPeak] = [bestOf(sure), bestOf(byPeak)];
    const weights = fitJudge(onsets);
    const temperature = temperatureOf(said);
    const claims = Array.from({ length: 70 }, (_, k) => 0.3 + k / 100);
    const claim = claims.find((c) => claimed(said, temperature, c).right >= CLAIM_RIGHT) ?? 1;
    const at = claimed(said, temperature, claim);
    notes.push(
      `calibration over ${onsets.length} onsets: ${JSON.stringify(weights, (_, x) => (typeof x === "number" ? Number(x.toFixed(3)) : x))}`,
    );
    notes.push(
      `picking: confidence ${best.toFixed(2)} is best (F1 ${f1At(sure, best).toFixed(4)}; by the peak alone at its best ${f1At(byPeak, bestByPeak).toFixed(4)})`,
    );
    notes.push(
      `strings: temperature ${temperature.toFixed(2)}, claim ${claim.toFixed(2)}: named ${at.named.toFixed(3)}, right ${at.right.toFixed(3)}; all named: ${claimed(said, temperature, 0).right.toFixed(3)}`,
    );
  }
  return {
    title: "listening to left-out guitars",
    columns: ["guitar", "study", "condition", "notes", "onset F1", "P", "R"],
    rows,
    notes,
  };
}

export default { name: "listen-fit", run } satisfies BenchCase;
