import { expect, test } from "vitest";
import { fixSheet } from "../../src/check/fix.js";
import { reportToJson } from "../../src/check/json.js";
import { markedTab } from "../../src/check/marks.js";
import { differenceText, reportToText } from "../../src/check/print.js";
import type { CheckReport, Difference } from "../../src/check/report.js";
import { sheetFromText } from "../../src/sheet/parse.js";
import { sheetToText } from "../../src/sheet/text.js";
import { tinySheet } from "../helpers/check/tiny.js";

const sheet = tinySheet([
  [1, 0, 5, 0],
  [1, 24, 3, 2],
  [1, 48, 2, 2],
  [2, 0, 6, 3],
]);
const differences: Difference[] = [
  {
    kind: "wrong-pitch",
    bar: 1,
    beat: 2,
    string: 3,
    fret: 2,
    writtenMidi: 57,
    playedMidi: 58,
    playedFret: 3,
    onsetSec: 1.5,
    confidence: 0.97,
  },
  { kind: "missing", bar: 1, beat: 3, string: 2, fret: 2, writtenMidi: 61, onsetSec: 2, confidence: 0.7 },
  { kind: "extra", bar: 1, beat: 4, string: 1, fret: 0, playedMidi: 64, onsetSec: 2.5, confidence: 0.9 },
  {
    kind: "late",
    bar: 2,
    beat: 1,
    string: 6,
    fret: 3,
    writtenMidi: 43,
    playedMidi: 43,
    offMs: 120,
    onsetSec: 3.1,
    confidence: 0.9,
  },
];
const report: CheckReport = {
  summary: { written: 4, matched: 2, missing: 1, extra: 1, wrongPitch: 1, timing: 1 },
  bars: [
    { bar: 1, verdict: "differs" },
    { bar: 2, verdict: "differs" },
    { bar: 3, verdict: "unsure" },
  ],
  differences,
  findings: [{ rule: "other-pitch", level: "warning", bar: 0, message: "A capo.", hint: "Write it." }],
  heardAtSec: [1, undefined, undefined, 3.1],
};

test("check/marks: wrong frets in parentheses with the right one behind, signs below, extra notes with a plus", () => {
  const lines = markedTab(sheet, 1, differences);
  expect(lines.slice(0, 6).map((l) => l.slice(0, 3))).toEqual(["e |", "B |", "G |", "D |", "A |", "E |"]);
  const widths = new Set(lines.slice(0, 6).map((l) => l.length));
  expect(widths.size).toBe(1);
  expect(lines[2]).toContain("(2)3");
  expect(lines[1]).toContain("(2)");
  expect(lines[0]).toContain("+0");
  for (const [sign, mark, line] of [
    ["=", "(2)3", 2],
    ["x", "(2)", 1],
    ["+", "+0", 0],
  ] as const)
    expect(lines[6]?.indexOf(sign)).toBe(lines[line]?.indexOf(mark)); // each sign under its note
});

for (const [k, words] of [
  [0, ["beat 2", "string 3 fret 2 (A3)", "Bb3 is heard at 1.50 s", "that is fret 3"]],
  [1, ["written, not heard", "70 % sure"]],
  [2, ["E4 is heard at 2.50 s and not written", "such as string 1 fret 0"]],
  [3, ["120 ms late"]],
] as const)
  test(`check/print: a ${differences[k]?.kind} difference says ${words[0]}`, () => {
    const text = differenceText(differences[k] as Difference, sheet);
    for (const word of words) expect(text).toContain(word);
  });

test("check/print: a tab without rhythm is spoken of by columns", () => {
  const bare = { ...sheet, rhythm: "none" as const };
  expect(differenceText(differences[1] as Difference, bare)).toContain("column 3, string 2");
  expect(differenceText(differences[2] as Difference, bare)).toContain("after column 3: E4");
});

test("check/print: another pitch that the written string cannot sound is given a place that can, and marked there", () => {
  const low: Difference = {
    ...(differences[0] as Difference),
    playedMidi: 50,
    playedString: 4,
    playedFret: 0,
  };
  expect(differenceText(low, sheet)).toContain("D3 is heard at 1.50 s, such as string 4 fret 0");
  const lines = markedTab(sheet, 1, [low]);
  expect(lines[2]).toContain("(2)-");
  expect(lines[3]).toContain("+0");
});

test("check/print: every sign under the tab is explained once, in the end", () => {
  const lines = reportToText(report, sheet).split("\n");
  expect(lines.filter((l) => l.startsWith("under the tab:"))).toEqual([
    "under the tab: = another pitch heard, its fret after the brackets; x not heard; + heard and not written; > late",
  ]);
});

test("check/print: one line a bar with its verdict in words, the whole-take findings first, the sum last", () => {
  const lines = reportToText(report, sheet).split("\n");
  expect(lines[0]).toBe("warning: A capo. Write it.");
  expect(lines.filter((l) => /^bar \d/.test(l))).toEqual([
    "bar 1  differs: 3 differences",
    "bar 2  differs: 1 difference",
    "bar 3  unsure",
  ]);
  expect(lines.at(-3)).toContain(
    "2 of 4 notes as written; 1 missing, 1 extra, 1 of another pitch, 1 early or late.",
  );
  expect(reportToText(report, sheet)).not.toContain("\u001b");
  expect(reportToText(report, sheet, { color: true })).toContain("\u001b[31mdiffers\u001b[0m");
});

test("check/json: the names of the contract, absent values left out", () => {
  const doc = JSON.parse(JSON.stringify(reportToJson(report)));
  expect(Object.keys(doc)).toEqual(["format", "version", "summary", "bars", "differences", "findings"]);
  expect([doc.format, doc.version]).toEqual(["pulgar.check", 1]);
  expect(Object.keys(doc.summary)).toEqual([
    "written",
    "matched",
    "missing",
    "extra",
    "wrongPitch",
    "timing",
  ]);
  expect(doc.bars[0]).toEqual({ bar: 1, verdict: "differs" });
  expect(doc.differences[1]).toEqual({
    kind: "missing",
    bar: 1,
    beat: 3,
    string: 2,
    fret: 2,
    writtenMidi: 61,
    onsetSec: 2,
    confidence: 0.7,
  });
  expect(JSON.stringify(doc)).not.toMatch(/null|NaN/);
});

test("check/fix: the copy has what was heard, every change is the machine's and has a finding, the sheet itself is untouched", () => {
  const before = JSON.stringify(sheet);
  const fixed = fixSheet(sheet, report);
  expect(JSON.stringify(sheet)).toBe(before);
  expect(fixed.notes.map((n) => [n.bar, n.tick, n.string, n.fret, n.midi, n.by])).toEqual([
    [1, 0, 5, 0, 45, "hand"],
    [1, 24, 3, 3, 58, "machine"],
    [1, 72, 1, 0, 64, "machine"],
    [2, 0, 6, 3, 43, "hand"],
  ]);
  expect(fixed.findings.map((f) => f.rule)).toEqual(["fixed", "fixed", "fixed"]);
});

test("check/fix: the text shows every change, as a remark and by the mark of doubt; read again it keeps the notes", () => {
  const text = sheetToText(fixSheet(sheet, report));
  expect(text.split("\n").filter((l) => l.startsWith("remark:"))).toEqual([
    "remark: check: Bar 1: beat 2, string 3 fret 3, was fret 2.",
    "remark: check: Bar 1: beat 3, string 2 fret 2 struck out: it is not heard.",
    "remark: check: Bar 1: beat 4, string 1 fret 0 added: E4 is heard.",
  ]);
  expect(text).toContain("3?");
  expect(text).toContain("0?");
  const { sheet: again } = sheetFromText(text);
  expect(again.notes.map((n) => [n.bar, n.tick, n.string, n.fret])).toEqual([
    [1, 0, 5, 0],
    [1, 24, 3, 3],
    [1, 72, 1, 0],
    [2, 0, 6, 3],
  ]);
});

test("check/fix: a pitch under the written string goes to the string that can sound it; a third of a beat stays one", () => {
  const triplets = tinySheet([
    [1, 0, 3, 0],
    [1, 8, 2, 0],
    [1, 16, 1, 0],
  ]);
  const low: Difference = {
    kind: "wrong-pitch",
    bar: 1,
    beat: 1,
    string: 3,
    fret: 0,
    writtenMidi: 55,
    playedMidi: 53,
    playedString: 4,
    playedFret: 3,
    confidence: 0.9,
  };
  const more: Difference = {
    kind: "extra",
    bar: 1,
    beat: 1 + 8 / 24,
    string: 3,
    fret: 0,
    playedMidi: 55,
    confidence: 0.9,
  };
  const fixed = fixSheet(triplets, { ...report, differences: [low, more] });
  expect(fixed.notes.map((n) => [n.tick, n.string, n.fret, n.midi])).toEqual([
    [0, 4, 3, 53],
    [8, 3, 0, 55],
    [8, 2, 0, 59],
    [16, 1, 0, 64],
  ]);
});

test("check/fix: a bar that was not played at all is left as written, with one remark; the report says it in one line", () => {
  const gone = sheet.notes
    .filter((n) => n.bar === 1)
    .map((n): Difference => {
      const { string, fret, midi: writtenMidi, tick } = n;
      return { kind: "missing", bar: 1, beat: 1 + tick / 24, string, fret, writtenMidi, confidence: 0.95 };
    });
  const fixed = fixSheet(sheet, { ...report, differences: gone });
  expect(fixed.notes).toEqual(sheet.notes);
  expect(fixed.remarks).toEqual(["check: Bar 1: not in the recording; left as written."]);
  const lines = reportToText({ ...report, differences: gone }, sheet).split("\n");
  const at = lines.indexOf("bar 1  differs: not played");
  expect(lines[at + 1]).toMatch(/^bar 2/);
});

test("check/fix: nothing to change, nothing changed", () => {
  const right = fixSheet(sheet, { ...report, differences: [] });
  expect(right).toEqual(sheet);
});
