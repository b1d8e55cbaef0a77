import { readFileSync, unlinkSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { HABITS_FILE, openHabits } from "../../cli/habits.js";
import { toMidi } from "../../src/export/midi.js";
import { HAND_WEIGHTS } from "../../src/hands/cost-table.js";
import { applyEdit } from "../../src/sheet/edit.js";
import { readSheet } from "../../src/sheet/read-any.js";
import type { Sheet, SheetNote } from "../../src/sheet/sheet.js";
import { runCli, tempFolder } from "../helpers/run-cli.js";
import { studyNamed } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";

const folder = tempFolder();
const path = join(folder, HABITS_FILE);

const sheet = toSheet(studyNamed("low-tide"));
const drafted: Sheet = { ...sheet, notes: sheet.notes.map((n): SheetNote => ({ ...n, by: "machine" })) };

/** The sheet with one open string moved to the next lower string, where it is stopped. */
function offOpen(from: Sheet): Sheet {
  for (const note of from.notes) {
    if (note.fret !== 0 || note.string === 6) continue;
    const string = note.string + 1;
    const fret = note.midi - (from.openMidi[6 - string] ?? 0) - from.capo;
    if (
      fret > 0 &&
      !from.notes.some((n) => n.bar === note.bar && n.tick === note.tick && n.string === string)
    )
      return applyEdit(from, { kind: "move-string", at: note, string });
  }
  throw new Error("the study has no open string to move");
}

test("habits: a correction is kept in the folder, moves the weights, and teaches once however often it is saved", async () => {
  const habits = openHabits(folder, false);
  expect(await habits.weights()).toBeUndefined();
  const mended = offOpen(drafted);
  expect(await habits.learn("a.sheet.json", drafted, mended)).toBe(1);
  const once = await habits.weights();
  expect(once?.open).toBeGreaterThan(HAND_WEIGHTS.open); // open strings are worth less to this player
  await habits.learn("a.sheet.json", drafted, mended);
  expect(await habits.weights()).toEqual(once);
  expect(JSON.parse(readFileSync(path, "utf8"))).toMatchObject({ format: "pulgar.hands", version: 1 });
});

test("habits: what is taken back is forgotten, and so is a sheet that is drafted afresh", async () => {
  const habits = openHabits(folder, false);
  await habits.learn("a.sheet.json", drafted, offOpen(drafted));
  await habits.learn("a.sheet.json", drafted, drafted);
  expect(await habits.weights()).toBeUndefined();
  await habits.learn("a.sheet.json", drafted, offOpen(drafted));
  await habits.forget("a.sheet.json");
  expect(await habits.weights()).toBeUndefined();
});

test("habits: switched off nothing is read or written; deleted it is as if nothing had been learnt", async () => {
  const on = openHabits(folder, false);
  await on.learn("b.sheet.json", drafted, offOpen(drafted));
  const before = readFileSync(path, "utf8");
  const off = openHabits(folder, true);
  expect(await off.weights()).toBeUndefined();
  expect(await off.learn("c.sheet.json", drafted, offOpen(drafted))).toBe(0);
  expect(readFileSync(path, "utf8")).toBe(before);
  unlinkSync(path);
  expect(await on.weights()).toBeUndefined();
});

test("habits: a file that is not ours is named, and how to go on", async () => {
  writeFileSync(path, "{ not json");
  await expect(openHabits(folder, false).weights()).rejects.toMatchObject({
    code: "bad-json",
    hint: expect.stringContaining("Delete it"),
  });
  unlinkSync(path);
});

/** Open strings in what `pulgar export` makes of a MIDI file in a folder. */
async function openStrings(at: string, ...flags: string[]): Promise<number> {
  const midi = join(at, "pitches.mid");
  writeFileSync(midi, toMidi({ ...toSheet(studyNamed("paper-boats")), repeats: [] }).bytes);
  const ran = await runCli(["export", midi, "--to", "json", "--out", "-", ...flags]);
  expect([ran.code, ran.err]).toEqual([0, ""]);
  const found = readSheet(ran.bytes[0] ?? new Uint8Array(), "out.sheet.json");
  if (found.kind !== "tab") throw new Error("no strings came out");
  return found.sheet.notes.filter((n) => n.fret === 0).length;
}

test("habits: export of pitches without strings leans as the folder's corrections say, and --no-habits goes without", async () => {
  const at = tempFolder();
  const plain = await openStrings(at);
  const from = { string: 2, fret: 0 };
  const away = Array.from({ length: 60 }, (_, k) => ({ at: `${k}`, from, to: { string: 3, fret: 4 } }));
  const said = { format: "pulgar.hands", version: 1, sheets: { "a.sheet.json": away } };
  writeFileSync(join(at, HABITS_FILE), JSON.stringify(said));
  expect(await openStrings(at)).toBeLessThan(plain);
  expect(await openStrings(at, "--no-habits")).toBe(plain);
});

test("habits: export stops at a habits file that is not ours, unless told to go without it", async () => {
  const at = tempFolder();
  writeFileSync(join(at, HABITS_FILE), "{ not json");
  const midi = join(at, "pitches.mid");
  writeFileSync(midi, toMidi({ ...sheet, repeats: [] }).bytes);
  const ran = await runCli(["export", midi, "--to", "json", "--out", "-"]);
  expect(ran.code).toBe(2);
  expect(ran.err).toContain("--no-habits");
  expect((await runCli(["export", midi, "--to", "json", "--out", "-", "--no-habits"])).code).toBe(0);
});
