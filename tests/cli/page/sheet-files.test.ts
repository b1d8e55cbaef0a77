import { copyFile, mkdtemp, readFile, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, expect, test } from "vitest";
import { keepSheet, openPair, pairOf, type SheetCodec } from "../../../cli/page/sheet-files.js";
import { editedSheet } from "../../../cli/sheet-pair.js";
import { PulgarError } from "../../../src/base/errors.js";
import { sheetToJson } from "../../../src/sheet/json.js";
import { sheetFromText } from "../../../src/sheet/parse.js";
import { sheetToText } from "../../../src/sheet/text.js";
import { plainTab } from "../../helpers/takes/plain-tab.js";
import { studyNamed } from "../../helpers/takes/studies.js";
import { toSheet } from "../../helpers/takes/to-sheet.js";
import { drop } from "./review-fixture.js";

const codec: SheetCodec = {
  readPair: editedSheet,
  readOther: async (path) => sheetFromText(await readFile(path, "utf8")).sheet,
  toText: sheetToText,
  toJson: sheetToJson,
};
const sheet = toSheet(studyNamed("mixolydian-over-a"));
let dir: string;
beforeEach(async () => {
  dir = await mkdtemp(join(tmpdir(), "pulgar-files-"));
});
afterEach(() => drop(dir));

test("review files: names of the pair, from either of the two and from a foreign sheet", () => {
  const pair = { text: join("d", "x.tab.txt"), json: join("d", "x.sheet.json") };
  expect(pairOf(join("d", "x.tab.txt"))).toEqual({ ...pair, isOne: "text" });
  expect(pairOf(join("d", "x.sheet.json"))).toEqual({ ...pair, isOne: "json" });
  expect(pairOf(join("d", "x.musicxml"))).toEqual({ ...pair, isOne: "other" });
});

test("review files: a foreign tab is never written over; its mends get a pair of their own", async () => {
  const path = join(dir, "found.tab.txt");
  const text = plainTab(studyNamed("mixolydian-over-a"));
  await writeFile(path, text);
  const { sheet: read, files } = await openPair(path, codec);
  expect(read.notes.length).toBe(sheet.notes.length);
  expect(files.text).toBe(join(dir, "found.mended.tab.txt"));
  await (await keepSheet(files, codec)).save(read);
  expect(await readFile(path, "utf8")).toBe(text);
  await expect(openPair(path, codec)).rejects.toSatisfy(
    (e) => e instanceof PulgarError && e.code === "exists",
  );
});

test("review files: what somebody else changed is noticed and never written over", async () => {
  const files = { text: join(dir, "x.tab.txt"), json: join(dir, "x.sheet.json") };
  const keeper = await keepSheet(files, codec);
  expect(await keeper.save(sheet)).toBe(true);
  expect(await keeper.changedOutside()).toBeUndefined();
  const theirs = (await readFile(files.text, "utf8")).replace(/^title: .*$/m, "title: Theirs");
  await writeFile(files.text, theirs);
  expect(await keeper.save({ ...sheet, title: "Ours" })).toBe(false);
  expect(await readFile(files.text, "utf8")).toBe(theirs);
  expect((await keeper.changedOutside())?.title).toBe("Theirs");
  expect(await keeper.save({ ...sheet, title: "Ours" })).toBe(true);
  expect((await editedSheet(files))?.title).toBe("Ours");
});

test("review files: killed between the two writes, the newer text wins and nothing is lost", async () => {
  const files = { text: join(dir, "x.tab.txt"), json: join(dir, "x.sheet.json") };
  const keeper = await keepSheet(files, codec);
  await keeper.save(sheet);
  await copyFile(files.json, join(dir, "old.json"));
  const mended = {
    ...sheet,
    notes: sheet.notes.map((n, k) =>
      k === 3 ? { ...n, fret: n.fret + 1, midi: n.midi + 1, by: "hand" as const } : n,
    ),
  };
  await keeper.save(mended);
  await copyFile(join(dir, "old.json"), files.json); // as if the second write had never happened
  const read = await editedSheet(files);
  expect(read?.notes.map((n) => n.midi)).toEqual(mended.notes.map((n) => n.midi));
  expect(read?.notes[3]?.by).toBe("hand");
});
