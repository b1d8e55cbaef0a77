// Fits the numbers of src/harmony/track-evidence.ts and src/harmony/mode-model.ts again: on composed tracks of even seeds under 64 (what
// sounds: of all seeds under 64) and on studies of seeds 100…209, every second one with 3 % of its notes lost and 3 % of others added. Prints what is used beside what
// the fit gives; the used values are rounded, and held where the fit had too few cases to say (common, dim, vote, elsewhere, moved).

import { mapSemitones } from "../../src/dsp/partials.js";
import { nameChords } from "../../src/harmony/chords.js";
import { makeChroma } from "../../src/harmony/chroma.js";
import type { HomeEvidence } from "../../src/harmony/evidence.js";
import { homeEvidence, lowNotes, notePresence, noteStrength } from "../../src/harmony/evidence.js";
import { type FeatureName, MODE_WEIGHTS, modeFeatures } from "../../src/harmony/mode-model.js";
import { keyStretches } from "../../src/harmony/sections.js";
import { trackChords } from "../../src/harmony/track-chords.js";
import {
  presenceFeatures,
  presenceInputs,
  TRACK_PRESENCE,
  trackPresence,
} from "../../src/harmony/track-evidence.js";
import { MODES, type ModeName } from "../../src/theory/scale-table.js";
import { studyInput } from "../harmony/study-input.js";
import { pitchClassOf } from "../helpers/takes/grips.js";
import { makeRng } from "../helpers/takes/rng.js";
import { studyBySeed } from "../helpers/takes/studies.js";
import { renderTrack } from "../helpers/tracks/render.js";
import type { BenchCase, Cell } from "./bench-case.js";

type Case = { features: number[][]; right: boolean[]; weight: number };
const NAMES = Object.keys(MODE_WEIGHTS) as FeatureName[];
const HELD: ReadonlySet<FeatureName> = new Set(["common", "dim", "vote", "elsewhere", "moved"]);

const bench: BenchCase = {
  name: "harmony-fit",
  run: async ({ quick, log }) => {
    const cases: Case[] = [];
    const presence: { x: number[]; y: number }[] = [];
    for (let seed = 0; seed < (quick ? 8 : 64); seed++) {
      addTrack(seed, seed % 2 === 0 ? cases : [], presence);
      log(`track ${seed}`);
    }
    for (let seed = 100; seed < (quick ? 110 : 210); seed++) addStudy(seed, cases);
    const used = NAMES.map((n) => MODE_WEIGHTS[n] as number);
    const fitted = fitWeights(cases, used);
    const rows: Cell[][] = NAMES.map((n, k) => [n, used[k], fitted[k]]);
    const odds = fitPresence(presence);
    Object.entries(TRACK_PRESENCE).forEach(([n, now], k) => {
      rows.push([`presence ${n}`, now, odds[k]]);
    });
    return {
      title: "Weights of the mode model, used and fitted again",
      columns: ["name", "used", "fitted"],
      rows,
      summary: [
        ["right of cases, used", rightCount(cases, used), cases.length],
        ["right of cases, fitted", rightCount(cases, fitted), cases.length],
      ],
    };
  },
};
export default bench;

function addCase(
  cases: Case[],
  e: HomeEvidence,
  tonic: string,
  modes: readonly ModeName[],
  weight: number,
): void {
  const features: number[][] = [];
  const right: boolean[] = [];
  for (let tonicPc = 0; tonicPc < 12; tonicPc++)
    for (const { mode } of MODES) {
      const found = modeFeatures(e, { tonicPc, mode });
      features.push(NAMES.map((n) => found[n]));
      right.push(tonicPc === pitchClassOf(tonic) && modes.includes(mode));
    }
  cases.push({ features, right, weight });
}

function addTrack(seed: number, cases: Case[], presence: { x: number[]; y: number }[]): void {
  const { take, truth, spec } = renderTrack(seed);
  const chroma = makeChroma(mapSemitones(take.samples, take.sampleRateHz));
  const chords = trackChords(chroma).filter((c) => c.root !== "");
  const endSec = take.samples.length / take.sampleRateHz;
  if (!spec.change)
    presenceFeatures(chroma, chords, 0, endSec).forEach((f, pc) => {
      presence.push({ x: presenceInputs(f), y: truth.pcs.includes(pc) ? 1 : 0 });
    });
  for (const stretch of keyStretches(
    chroma,
    endSec,
    chords.map((c) => c.startSec),
  )) {
    const from = Math.max(chords[0]?.startSec ?? 0, stretch.startSec);
    const to = Math.min(chords.at(-1)?.endSec ?? endSec, stretch.endSec);
    const section = truth.sections.find((s) => s.startSec < (from + to) / 2 && s.endSec > (from + to) / 2);
    if (!section) continue;
    const inside = chords.filter((c) => c.endSec > from + 0.2 && c.startSec < to - 0.2);
    const f = presenceFeatures(chroma, chords, from, to);
    const e = homeEvidence(
      inside,
      trackPresence(f),
      f.map((x) => x.whole + x.atChord),
    );
    addCase(cases, e, section.tonic, [section.mode, ...truth.undecided.flatMap((u) => u.between)], 1);
  }
}

function addStudy(seed: number, cases: Case[]): void {
  const study = studyBySeed(seed);
  const { notes, grid } = studyInput(study);
  const rng = makeRng(`fit ${seed}`);
  const share = seed % 2 === 1 ? 0.03 : 0;
  const kept = notes.filter(() => !rng.chance(share));
  const ghosts = kept
    .filter(() => rng.chance(share))
    .map((n) => ({
      ...n,
      midi: n.midi + rng.pick([12, 7, -12, 19, 1, 2]),
      confidence: 0.5 + 0.4 * rng.next(),
      velocity: 0.3,
    }));
  const heard = [...kept, ...ghosts];
  const e = homeEvidence(nameChords(heard, grid), notePresence(heard), noteStrength(heard));
  const low = lowNotes(heard, grid);
  e.bass = e.bass.map((x, pc) => 0.6 * x + 0.4 * (low[pc] ?? 0));
  addCase(
    cases,
    e,
    study.mode.tonic,
    [study.mode.mode, ...study.mode.undecided.flatMap((u) => u.between)],
    0.4,
  );
}

const scores = (c: Case, w: readonly number[]): number[] =>
  c.features.map((f) => f.reduce((sum, x, k) => sum + x * (w[k] ?? 0), 0));

function rightCount(cases: readonly Case[], w: readonly number[]): number {
  return cases.filter((c) => {
    const z = scores(c, w);
    return c.right[z.indexOf(Math.max(...z))] === true;
  }).length;
}

/** Gradient ascent on the log-likelihood, drawn back to where it began so that few cases cannot run away with a weight. */
function fitWeights(cases: readonly Case[], start: readonly number[]): number[] {
  let w = [...start];
  const total = cases.reduce((sum, c) => sum + c.weight, 0);
  for (let round = 0; round < 300; round++) {
    const slope = w.map(() => 0);
    for (const c of cases) {
      const z = scores(c, w);
      const top = Math.max(...z);
      const odds = z.map((x) => Math.exp(x - top));
      const all = odds.reduce((a, b) => a + b, 0);
      const right = odds.reduce((a, b, k) => a + (c.right[k] ? b : 0), 0) + 1e-300;
      odds.forEach((x, k) => {
        const pull = c.weight * ((c.right[k] ? x / right : 0) - x / all);
        if (Math.abs(pull) > 1e-6)
          c.features[k]?.forEach((f, n) => {
            slope[n] = (slope[n] ?? 0) + pull * f;
          });
      });
    }
    w = w.map((x, k) =>
      HELD.has(NAMES[k] as FeatureName)
        ? x
        : x + 0.6 * ((slope[k] ?? 0) / total - 0.03 * (x - (start[k] ?? 0))),
    );
  }
  return w;
}

function fitPresence(cases: readonly { x: number[]; y: number }[]): number[] {
  const slopes = Object.keys(TRACK_PRESENCE).map(() => 0);
  let w = [...slopes];
  for (let round = 0; round < 8000; round++) {
    const slope = [...slopes];
    for (const { x, y } of cases) {
      const p = 1 / (1 + Math.exp(-x.reduce((sum, v, k) => sum + v * (w[k] ?? 0), 0)));
      x.forEach((v, k) => {
        slope[k] = (slope[k] ?? 0) + (y - p) * v;
      });
    }
    w = w.map((v, k) => v + 0.3 * ((slope[k] ?? 0) / cases.length - (k > 0 ? 0.0005 * v : 0)));
  }
  return w;
}
