import { spawnSync } from "node:child_process";
import { expect, test } from "vitest";
import { hasPython, testNeeding } from "./needs.js";
import { beatFMeasure } from "./score/beats.js";
import { harteOf, scoreChords, type TimedChord } from "./score/chords.js";
import { largestMatching, roundTo4 } from "./score/match.js";
import { errorKinds, matchNotes, type ScoredNote, scoreNotes } from "./score/notes.js";
import { scoreSheet } from "./score/take.js";
import { makeRng } from "./takes/rng.js";
import { studyNamed } from "./takes/studies.js";
import { renderTake } from "./takes/take.js";
import { toSheet } from "./takes/to-sheet.js";

const MIR_EVAL = "Debian python3-mir-eval";

/** Runs Python over JSON from stdin. */
function python(code: string, input: unknown): unknown {
  const run = spawnSync("/usr/bin/python3", ["-W", "ignore", "-c", code], {
    input: JSON.stringify(input),
    encoding: "utf8",
  });
  if (run.status !== 0) throw new Error(run.stderr);
  return JSON.parse(run.stdout);
}

/** Reference notes by chance, and an estimate of them: moved, dropped, doubled, with ties on the 50 ms edge. */
function randomNotes(seed: number): { ref: ScoredNote[]; est: ScoredNote[] } {
  const rng = makeRng(`score ${seed}`);
  const ref: ScoredNote[] = [];
  for (let k = 0; k < 60 + rng.int(60); k++) {
    const onsetSec = Math.round(rng.next() * 20000) / 1000;
    ref.push({ onsetSec, offsetSec: onsetSec + 0.05 + rng.next() * 2, midi: 52 + rng.int(8) });
  }
  const est: ScoredNote[] = [];
  for (const note of ref) {
    if (rng.chance(0.15)) continue;
    const moved = rng.chance(0.2) ? (rng.chance(0.5) ? 0.05 : -0.05) : rng.gauss() * 0.03;
    const onsetSec = Math.max(0, note.onsetSec + moved);
    const copies = rng.chance(0.1) ? 2 : 1;
    for (let c = 0; c < copies; c++)
      est.push({
        onsetSec: onsetSec + c * 0.02,
        offsetSec: Math.max(onsetSec + c * 0.02 + 0.01, note.offsetSec + rng.gauss() * 0.15),
        midi: note.midi + (rng.chance(0.1) ? 1 : 0),
      });
  }
  return { ref, est };
}

const NOTES_PY = `
import json,sys,numpy as np,mir_eval
out=[]
for c in json.load(sys.stdin):
    iv=lambda ns: np.array([[n['onsetSec'],n['offsetSec']] for n in ns])
    hz=lambda ns: 440*2**((np.array([n['midi'] for n in ns])-69)/12)
    a=(iv(c['ref']),hz(c['ref']),iv(c['est']),hz(c['est']))
    out.append([list(mir_eval.transcription.precision_recall_f1_overlap(*a,offset_ratio=None)[:3]),
                list(mir_eval.transcription.precision_recall_f1_overlap(*a)[:3])])
print(json.dumps(out))`;

testNeeding(
  hasPython("mir_eval"),
  MIR_EVAL,
  "score: note figures equal mir_eval's on twenty sets by chance",
  () => {
    const sets = Array.from({ length: 20 }, (_, k) => randomNotes(k));
    const theirs = python(NOTES_PY, sets) as number[][][];
    expect(theirs.length).toBe(20);
    sets.forEach(({ ref, est }, k) => {
      const { onset, onsetOffset } = scoreNotes(ref, est);
      const ours = [onset, onsetOffset].map((s) => [s.precision, s.recall, s.f1]);
      ours.flat().forEach((x, idx) => {
        expect(Math.abs(x - (theirs[k]?.flat()[idx] as number))).toBeLessThan(1e-9);
      });
      expect(onset.f1).toBeGreaterThan(0.4); // the sets are no empty comparison
      expect(onsetOffset.f1).toBeLessThan(onset.f1);
    });
  },
);

testNeeding(
  hasPython("mir_eval"),
  MIR_EVAL,
  "score: beat F-measure equals mir_eval's on twenty sets by chance",
  () => {
    const sets = Array.from({ length: 20 }, (_, k) => {
      const rng = makeRng(`beats ${k}`);
      const ref = Array.from({ length: 40 }, (__, b) => 0.5 + b * 0.5);
      const est = ref.flatMap((t) => (rng.chance(0.1) ? [] : [t + rng.gauss() * 0.05])).sort((a, b) => a - b);
      return { ref, est };
    });
    const code = `
import json,sys,numpy as np,mir_eval
print(json.dumps([mir_eval.beat.f_measure(np.array(c['ref']),np.array(c['est'])) for c in json.load(sys.stdin)]))`;
    const theirs = python(code, sets) as number[];
    sets.forEach(({ ref, est }, k) => {
      expect(Math.abs(beatFMeasure(ref, est) - (theirs[k] as number))).toBeLessThan(1e-9);
    });
    expect(Math.min(...theirs)).toBeLessThan(0.95);
  },
);

const QUALITIES = [
  "",
  "m",
  "7",
  "m7",
  "maj7",
  "6",
  "m6",
  "add9",
  "sus2",
  "sus4",
  "dim",
  "aug",
  "m7b5",
  "9",
  "5",
];

testNeeding(
  hasPython("mir_eval"),
  MIR_EVAL,
  "score: chord majmin and root figures equal mir_eval's on twenty charts by chance",
  () => {
    const roots = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"];
    const sets = Array.from({ length: 20 }, (_, k) => {
      const rng = makeRng(`chords ${k}`);
      const chart = (from: readonly TimedChord[] | undefined): TimedChord[] => {
        const borders = [0.5, ...Array.from({ length: 15 }, () => 0.6 + rng.next() * 28), 29.5].sort(
          (a, b) => a - b,
        );
        return borders.slice(0, -1).map((startSec, idx) => {
          const same = from?.find((c) => c.startSec <= startSec && c.endSec > startSec);
          const symbol =
            same !== undefined && rng.chance(0.6)
              ? same.symbol
              : rng.pick(roots.slice(0, 4)) + rng.pick(QUALITIES);
          return { startSec, endSec: borders[idx + 1] as number, symbol: rng.chance(0.05) ? "N.C." : symbol };
        });
      };
      const ref = chart(undefined);
      return { ref, est: chart(ref) };
    });
    const code = `
import json,sys,numpy as np,mir_eval
out=[]
for c in json.load(sys.stdin):
    iv=lambda x: np.array([[n['startSec'],n['endSec']] for n in x]); lb=lambda x: [n['harte'] for n in x]
    s=mir_eval.chord.evaluate(iv(c['ref']),lb(c['ref']),iv(c['est']),lb(c['est']))
    out.append([s['majmin'],s['root']])
print(json.dumps(out))`;
    const named = (list: readonly TimedChord[]) => list.map((c) => ({ ...c, harte: harteOf(c.symbol) }));
    const theirs = python(
      code,
      sets.map((s) => ({ ref: named(s.ref), est: named(s.est) })),
    ) as number[][];
    sets.forEach(({ ref, est }, k) => {
      const ours = scoreChords(ref, est);
      expect(Math.abs(ours.majmin - (theirs[k]?.[0] as number))).toBeLessThan(1e-9);
      expect(Math.abs(ours.root - (theirs[k]?.[1] as number))).toBeLessThan(1e-9);
    });
  },
);

test("score: the bass of a slash chord counts by itself (by hand)", () => {
  const ref = [
    { startSec: 0, endSec: 2, symbol: "G/A" },
    { startSec: 2, endSec: 4, symbol: "A" },
  ];
  const est = [
    { startSec: 0, endSec: 2, symbol: "G" },
    { startSec: 2, endSec: 3, symbol: "A" },
  ];
  expect(scoreChords(ref, est)).toEqual({ majmin: 0.75, root: 0.75, bass: 0.25 });
});

test("score: a crossing pair is matched as two, not greedily as one (by hand)", () => {
  const note = (onsetSec: number): ScoredNote => ({ onsetSec, offsetSec: onsetSec + 1, midi: 60 });
  // 1.04 reaches both references, 0.96 only the first: the nearest-first choice would lose one.
  expect(matchNotes([note(1), note(1.08)], [note(1.035), note(0.96)]).length).toBe(2);
  expect(largestMatching([[0, 1], [0]], 2)).toEqual([
    [0, 1],
    [1, 0],
  ]);
});

test("score: rounding to four decimals goes to even halves like numpy (numpy.around documentation)", () => {
  expect(roundTo4(0.05004)).toBe(0.05);
  expect(roundTo4(0.05006)).toBe(0.0501);
  expect(roundTo4(0.5 / 10000)).toBe(0); // a half, to the even side
});

test("score: wrong notes are told apart by kind (by hand)", () => {
  const at = (onsetSec: number, midi: number, velocity = 0.7) => ({
    onsetSec,
    offsetSec: onsetSec + 1,
    midi,
    velocity,
  });
  const kinds = errorKinds(
    [at(1, 45), at(1, 57), at(1, 64), at(1.5, 60)],
    [at(1, 45), at(1, 64), at(1.5, 45), at(1.5, 60), at(1.5, 72), at(1.5, 79), at(1.51, 61)],
  );
  expect(kinds.falseNotes).toEqual({
    restruck: 1,
    octave: 1,
    twelfth: 1,
    doubleOctave: 0,
    timing: 0,
    other: 1,
  });
  expect(kinds.missedNotes.octavePinch).toBe(1);
});

test("score: a true sheet of a take scores full marks, and each spoiled part shows in its own figure", async () => {
  const rendered = await renderTake(studyNamed("short-errand"), { bank: "steel", seed: 1 });
  const sheet = toSheet(rendered.study, rendered.performance);
  const full = scoreSheet(rendered, sheet);
  expect([
    full.onset.f1,
    full.place.f1,
    full.placement,
    full.fingers,
    full.beatF,
    full.majmin,
    full.bass,
  ]).toEqual([1, 1, 1, 1, 1, 1, 1]);
  expect(full.modeRight).toBe(true);
  const first = sheet.notes[0];
  if (first === undefined) throw new Error("no notes");
  const spoil = (change: Partial<typeof first>): typeof full =>
    scoreSheet(rendered, { ...sheet, notes: sheet.notes.map((n, k) => (k === 0 ? { ...n, ...change } : n)) });
  expect(spoil({ midi: first.midi + 1 }).onset.matched).toBe(rendered.notes.length - 1);
  expect(spoil({ string: 2 }).place.matched).toBe(rendered.notes.length - 1);
  expect(spoil({ tick: 12 }).placement).toBeCloseTo(1 - 1 / rendered.notes.length, 9);
  const { mode } = sheet;
  if (mode === undefined) throw new Error("no mode");
  expect(scoreSheet(rendered, { ...sheet, mode: { ...mode, tonic: "F" } }).modeRight).toBe(false);
});
