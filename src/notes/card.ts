/** The listener's card: what its weights expect and how sure its numbers are. Written by the training, read at the door. */
import { PulgarError } from "../base/errors.js";
import { JUDGE_TERMS, type JudgeTerm } from "./judge.js";

/** @property contextFrames frames that the network looks to each side
 * @property pickConfidence a candidate is taken as a note from here
 * @property calibration weights of the terms that say how sure an onset is (judge.ts)
 * @property strings shares = softmax(logits / temperature); the sound tells the string where the largest reaches `claim` */
export type ListenerCard = {
  name: string;
  file: string;
  sha256: string;
  sampleRateHz: number;
  hopLen: number;
  frameLen: number;
  lowestMidi: number;
  pitchCount: number;
  contextFrames: number;
  pickConfidence: number;
  offLogit: number;
  calibration: Record<JudgeTerm, number>;
  strings: { temperature: number; claim: number };
};

/** @throws PulgarError "bad-model" naming the field that is wrong */
export function parseCard(value: unknown): ListenerCard {
  const root = asRecord(value, "card");
  const number = (from: Record<string, unknown>, path: string, key: string): number => {
    const x = from[key];
    if (typeof x !== "number" || !Number.isFinite(x)) throw wrong(`${path}${key}`, "a number", x);
    return x;
  };
  const text = (key: string): string => {
    const x = root[key];
    if (typeof x !== "string" || x.length === 0) throw wrong(key, "text", x);
    return x;
  };
  const calibration = asRecord(root.calibration, "calibration");
  const strings = asRecord(root.strings, "strings");
  return {
    name: text("name"),
    file: text("file"),
    sha256: text("sha256"),
    sampleRateHz: number(root, "", "sampleRateHz"),
    hopLen: number(root, "", "hopLen"),
    frameLen: number(root, "", "frameLen"),
    lowestMidi: number(root, "", "lowestMidi"),
    pitchCount: number(root, "", "pitchCount"),
    contextFrames: number(root, "", "contextFrames"),
    pickConfidence: number(root, "", "pickConfidence"),
    offLogit: number(root, "", "offLogit"),
    calibration: Object.fromEntries(
      JUDGE_TERMS.map((term) => [term, number(calibration, "calibration.", term)]),
    ) as Record<JudgeTerm, number>,
    strings: {
      temperature: number(strings, "strings.", "temperature"),
      claim: number(strings, "strings.", "claim"),
    },
  };
}

function asRecord(value: unknown, path: string): Record<string, unknown> {
  if (typeof value !== "object" || value === null || Array.isArray(value))
    throw wrong(path, "an object", value);
  return value as Record<string, unknown>;
}

const wrong = (path: string, want: string, found: unknown): PulgarError =>
  new PulgarError(
    "bad-model",
    `card.json, ${path}: want ${want}, found ${found === null ? "null" : typeof found}`,
    "Install pulgar again: the listener's files belong together.",
  );
