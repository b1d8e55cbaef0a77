// What makes an onset doubtful, by the card in the tree: evidence by hand, the same peak in different surroundings.
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { parseCard } from "../../src/notes/card.js";
import { judge, judgeTerms } from "../../src/notes/judge.js";
import { type EvidenceMap, LOGIT_STEPS } from "../../src/notes/played-note.js";
import { ROOT } from "../helpers/needs.js";
import { PEAK_ALONE } from "./card-by-hand.js";

const card = parseCard(JSON.parse(readFileSync(join(ROOT, "models/listener/card.json"), "utf8")));
const PITCHES = 53;
const FRAME = 50; // the peak's, at A4 (index 33 above C2)
const PITCH = 33;
const LOGIT = 1; // a peak that could be either

/** @param onsets pitch index and logit, all at the peak's frame @param ringsFrom frame from which the peak's pitch sounds */
function evidence(onsets: readonly [number, number][], ringsFrom: number): EvidenceMap {
  const map: EvidenceMap = {
    frameSec: 256 / 22050,
    frameCount: 100,
    lowestMidi: 36,
    pitchCount: PITCHES,
    onset: new Int8Array(100 * PITCHES).fill(-7 * LOGIT_STEPS),
    sounding: new Int8Array(100 * PITCHES).fill(-7 * LOGIT_STEPS),
  };
  for (const [p, logit] of [[PITCH, LOGIT] as const, ...onsets])
    map.onset[FRAME * PITCHES + p] = logit * LOGIT_STEPS;
  for (let f = ringsFrom; f < 100; f++) map.sounding[f * PITCHES + PITCH] = 5 * LOGIT_STEPS;
  return map;
}

const sureOf = (map: EvidenceMap, weights = card.calibration): number =>
  judge(judgeTerms(map, FRAME, PITCH, 0.6), weights);

test("judge: by the peak alone the confidence is the logistic function of its logit (Cox 1958)", () => {
  expect(sureOf(evidence([], FRAME), PEAK_ALONE)).toBeCloseTo(1 / (1 + Math.exp(-LOGIT)), 9);
});

test.each<[string, readonly [number, number][], number]>([
  // The second partial of a string lies an octave above it: harmonic series, Fletcher and Rossing, The Physics of Musical Instruments (1998), 2.
  ["an octave below begins with it: it may be that note's second partial", [[PITCH - 12, 5]], FRAME],
  // A struck string shakes the others: sympathetic vibration, common practice, no published source.
  ["its string rings already and a lower one is struck", [[PITCH - 5, 5]], 0],
])("judge: a peak is less sure where %s", (_, onsets, ringsFrom) => {
  expect(sureOf(evidence(onsets, ringsFrom))).toBeLessThan(sureOf(evidence([], FRAME)) - 0.05);
});

test("judge: terms outside the map count as unheard", () => {
  const map = evidence([], FRAME);
  const terms = judgeTerms(map, 0, 0, 0.5);
  expect(terms.octaveBelow).toBeLessThan(0.001);
  expect(Object.values(terms).every(Number.isFinite)).toBe(true);
});
