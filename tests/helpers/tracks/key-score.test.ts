import { spawnSync } from "node:child_process";
import { expect, test } from "vitest";
import { hasPython, testNeeding } from "../needs.js";
import { mirexScore, sameNotes } from "./key-score.js";

const NAMES = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"];

testNeeding(
  hasPython("mir_eval"),
  "Debian python3-mir-eval",
  "tracks key score: all 576 pairs score as mir_eval.key does",
  () => {
    const pairs = NAMES.flatMap((a) =>
      [false, true].flatMap((am) => NAMES.flatMap((b) => [false, true].map((bm) => [a, am, b, bm] as const))),
    );
    const run = spawnSync(
      "/usr/bin/python3",
      [
        "-W",
        "ignore",
        "-c",
        "import json,sys,mir_eval\nprint(json.dumps([mir_eval.key.weighted_score(a,b) for a,b in json.load(sys.stdin)]))",
      ],
      {
        input: JSON.stringify(
          pairs.map(([a, am, b, bm]) => [`${a} ${am ? "minor" : "major"}`, `${b} ${bm ? "minor" : "major"}`]),
        ),
        encoding: "utf8",
      },
    );
    expect(run.status).toBe(0);
    const ours = pairs.map(([a, am, b, bm]) =>
      mirexScore({ tonic: a, isMinor: am }, { tonic: b, isMinor: bm }),
    );
    expect(ours).toEqual(JSON.parse(run.stdout));
  },
);

test("tracks key score: D dorian has the notes of C ionian, not of C mixolydian (common practice)", () => {
  expect(sameNotes({ tonic: "D", mode: "dorian" }, { tonic: "C", mode: "ionian" })).toBe(true);
  expect(sameNotes({ tonic: "D", mode: "dorian" }, { tonic: "C", mode: "mixolydian" })).toBe(false);
});
