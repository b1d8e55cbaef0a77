// Fits the listener's card on guitars that its weights never heard: calibration, picking threshold, temperature and claim of strings.
// Each run of the training that left guitars out is a folder with listener.onnx and card.json (calibration 1, 0; strings 1, 0);
// `--left-out=FOLDER:guitar,guitar` once for each. Studies by seeds that no other bench uses; no test guitar is heard here.
import { openListener } from "../../cli/listener-runtime.js";
import { logit, sigmoid } from "../../src/base/numbers.js";
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
const TAKES_A_GUITAR = 3;
/** Of the notes whose string is claimed this share must be right on the left-out guitars: 0.75 is wanted on others. */
const CLAIM_RIGHT = 0.8;

/** An onset's raw logit and whether a note was there. */
type Onset = { logit: number; right: boolean };
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
      said.forEach((n, idx) => {
        out.onsets.push({ logit: logit(n.confidence), right: hit.has(idx) });
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

/** Scale and shift of a logistic regression by Newton's method (Platt 1999). */
function platt(onsets: readonly Onset[]): { scale: number; shift: number } {
  let [a, b] = [1, 0];
  for (let step = 0; step < 50; step++) {
    let [ga, gb, haa, hab, hbb] = [0, 0, 1e-6, 0, 1e-6];
    for (const { logit: x, right } of onsets) {
      const p = sigmoid(a * x + b);
      const w = p * (1 - p);
      const miss = p - Number(right);
      ga += miss * x;
      gb += miss;
      haa += w * x * x;
      hab += w * x;
      hbb += w;
    }
    const det = haa * hbb - hab * hab;
    a -= (hbb * ga - hab * gb) / det;
    b -= (haa * gb - hab * ga) / det;
  }
  return { scale: a, shift: b };
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
    const { scale, shift } = platt(onsets);
    const f1At = (x: number): number => {
      const picked = onsets.filter((o) => o.logit >= x);
      return (2 * picked.filter((o) => o.right).length) / (picked.length + played);
    };
    const steps = Array.from({ length: 51 }, (_, k) => -1.5 + k / 10);
    const best = steps.reduce((a, x) => (f1At(x) > f1At(a) ? x : a));
    const temperature = temperatureOf(said);
    const claims = Array.from({ length: 70 }, (_, k) => 0.3 + k / 100);
    const claim = claims.find((c) => claimed(said, temperature, c).right >= CLAIM_RIGHT) ?? 1;
    const at = claimed(said, temperature, claim);
    notes.push(
      `calibration: scale ${scale.toFixed(4)}, shift ${shift.toFixed(4)} over ${onsets.length} onsets`,
    );
    notes.push(
      `picking: logit ${best.toFixed(2)} is best (F1 ${f1At(best).toFixed(4)}; at 0 ${f1At(0).toFixed(4)}, at 0.7 ${f1At(0.7).toFixed(4)}), confidence ${sigmoid(scale * best + shift).toFixed(3)}`,
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
