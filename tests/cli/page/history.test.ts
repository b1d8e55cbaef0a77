import { appendFile, mkdtemp, readFile, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import fc from "fast-check";
import { afterEach, beforeEach, expect, test } from "vitest";
import { changesBetween, withChanges } from "../../../cli/page/doc-changes.js";
import { type DocCodec, openHistory, stepsFile } from "../../../cli/page/history.js";
import { applyEdit } from "../../../src/sheet/edit.js";
import { sheetFromJson, sheetToJson } from "../../../src/sheet/json.js";
import type { Sheet } from "../../../src/sheet/sheet.js";
import { studyNamed } from "../../helpers/takes/studies.js";
import { toSheet } from "../../helpers/takes/to-sheet.js";
import { anySheet } from "../../sheet/any-sheet.js";
import { drop } from "./review-fixture.js";

const codec: DocCodec = { toJson: sheetToJson, fromJson: sheetFromJson };
const first = toSheet(studyNamed("mixolydian-over-a"));
const mendedAt = (sheet: Sheet, fret: number): Sheet =>
  applyEdit(sheet, { kind: "set-fret", at: { bar: 1, tick: 12, string: 3 }, fret });
let dir: string;
let path: string;
beforeEach(async () => {
  dir = await mkdtemp(join(tmpdir(), "pulgar-steps-"));
  path = join(dir, ".x.steps");
});
afterEach(() => drop(dir));

test("review changes: of any two sheets, the one becomes the other and back", () => {
  fc.assert(
    fc.property(anySheet, anySheet, (a, b) => {
      const [from, to] = [a, b].map((s) => JSON.parse(JSON.stringify(sheetToJson(s))));
      const changes = changesBetween(from, to);
      expect(withChanges(from, changes, "on")).toEqual(to);
      expect(withChanges(to, changes, "back")).toEqual(from);
      expect(changesBetween(from, from)).toEqual([]);
    }),
    { numRuns: 100, seed: 11 },
  );
});

test("review changes: what belongs to another document is refused", () => {
  const changes = changesBetween({ notes: [1, 2, 3] }, { notes: [1, 5, 3] });
  expect(() => withChanges({ notes: [1, 9, 3] }, changes, "on")).toThrow("notes");
  expect(() => withChanges({ notes: [1, 2, 3] }, changes, "back")).toThrow("notes");
});

test("review steps: lie hidden beside the sheet", () => {
  expect(stepsFile({ text: join("d", "x.tab.txt"), json: join("d", "x.sheet.json") })).toBe(
    join("d", ".x.steps"),
  );
});

test("review steps: undo, redo and a new start find every step again; a mend after an undo forgets what was undone", async () => {
  let sheet = first;
  const history = await openHistory(path, codec, sheet);
  expect([history.undo(), history.peek("undo")]).toEqual([null, undefined]);
  for (const fret of [4, 5, 7]) {
    sheet = mendedAt(sheet, fret);
    await history.record(`to fret ${fret}`, sheet);
  }
  await history.moved("undo");
  const again = await openHistory(path, codec, mendedAt(mendedAt(first, 4), 5));
  expect([again.undo(), again.redo(), again.undoCount(), again.redoCount()]).toEqual([
    "to fret 5",
    "to fret 7",
    2,
    1,
  ]);
  expect(again.peek("redo")).toEqual(sheet);
  await again.moved("undo");
  await again.moved("undo");
  expect(again.peek("undo")).toBeUndefined();
  await again.record("to fret 9", mendedAt(first, 9));
  expect([again.undoCount(), again.redoCount()]).toEqual([1, 0]);
  expect(again.peek("undo")).toEqual(first);
});

test("review steps: what was changed while nobody looked is a step of its own", async () => {
  const history = await openHistory(path, codec, first);
  await history.record("to fret 4", mendedAt(first, 4));
  const theirs = { ...mendedAt(first, 4), title: "Theirs" };
  const again = await openHistory(path, codec, theirs);
  expect([again.undo(), again.undoCount()]).toEqual(["the change made outside", 2]);
  expect(again.peek("undo")).toEqual(mendedAt(first, 4));
});

test("review steps: a line cut short by a crash was no step; a file that is no steps of ours is begun anew", async () => {
  const history = await openHistory(path, codec, first);
  await history.record("to fret 4", mendedAt(first, 4));
  const whole = await readFile(path, "utf8");
  await appendFile(path, '{"label":"to fret 5","chan');
  const again = await openHistory(path, codec, mendedAt(first, 4));
  expect([again.undo(), again.undoCount()]).toEqual(["to fret 4", 1]);
  expect(await readFile(path, "utf8")).toBe(whole);
  for (const text of [
    "",
    "not json\n",
    '{"format":"other"}\n',
    whole.replace('"to fret 4"', '"to fret 4","x":'),
    `${whole}{"way":"redo"}\n`,
  ]) {
    await writeFile(path, text);
    const fresh = await openHistory(path, codec, first);
    expect([fresh.undoCount(), fresh.redoCount()], text.slice(0, 40)).toEqual([0, 0]);
    await fresh.record("to fret 6", mendedAt(first, 6));
    expect((await openHistory(path, codec, mendedAt(first, 6))).undoCount()).toBe(1);
  }
});

test("review steps: where they cannot be written this is told once, and undo goes on without the file", async () => {
  const told: unknown[] = [];
  const history = await openHistory(join(dir, "absent.txt", "no folder"), codec, first, (e) => told.push(e));
  await writeFile(join(dir, "absent.txt"), "a file where a folder should be");
  await history.record("to fret 4", mendedAt(first, 4));
  await history.record("to fret 5", mendedAt(first, 5));
  expect(told).toHaveLength(1);
  expect(history.peek("undo")).toEqual(mendedAt(first, 4));
});

test("review steps: a hundred mends of a long piece stay small", async () => {
  const history = await openHistory(path, codec, first);
  let sheet = first;
  for (let k = 0; k < 100; k++) {
    sheet = mendedAt(sheet, k % 12);
    await history.record(`step ${k}`, sheet);
  }
  const base = JSON.stringify(sheetToJson(first)).length;
  expect((await readFile(path, "utf8")).length).toBeLessThan(base + 100 * 2000);
});
