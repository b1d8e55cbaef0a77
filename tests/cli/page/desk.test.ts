import { mkdtemp, readFile, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, expect, test } from "vitest";
import { type Desk, type MusicDeps, openDesk } from "../../../cli/page/desk.js";
import { openHistory, stepsFile } from "../../../cli/page/history.js";
import type { Recording } from "../../../cli/page/recording.js";
import { keepSheet, type SheetCodec } from "../../../cli/page/sheet-files.js";
import type { PageEvent } from "../../../cli/page/view-types.js";
import { editedSheet } from "../../../cli/sheet-pair.js";
import { PulgarError } from "../../../src/base/errors.js";
import type { CheckReport } from "../../../src/check/report.js";
import type { Listening } from "../../../src/notes/played-note.js";
import { applyEdit, type Edit } from "../../../src/sheet/edit.js";
import { sheetFromJson, sheetToJson } from "../../../src/sheet/json.js";
import type { Sheet } from "../../../src/sheet/sheet.js";
import { siblingEdits } from "../../../src/sheet/siblings.js";
import { sheetToText } from "../../../src/sheet/text.js";
import { studyNamed } from "../../helpers/takes/studies.js";
import { toSheet } from "../../helpers/takes/to-sheet.js";
import { drop } from "./review-fixture.js";

const codec: SheetCodec = {
  readPair: editedSheet,
  readOther: () => Promise.reject(new Error("not asked for")),
  toText: sheetToText,
  toJson: sheetToJson,
};
const study = toSheet(studyNamed("mixolydian-over-a"));
const first: Sheet = { ...study, notes: study.notes.map((n) => ({ ...n, by: "machine", confidence: 0.9 })) };
const fret = (value: number): Edit => ({
  kind: "set-fret",
  at: { bar: 1, tick: 12, string: 3 },
  fret: value,
});
const fretOf = (sheet: { notes: readonly { bar: number; tick: number; string: number; fret: number }[] }) =>
  sheet.notes.find((n) => n.bar === 1 && n.tick === 12 && n.string === 3)?.fret;

let dir: string;
let desk: Desk;
let events: PageEvent[];
let redecided: number[][];
let checks: { sheet: Sheet; answer: (report: CheckReport) => void; refuse: (e: unknown) => void }[];
const files = (): { text: string; json: string } => ({
  text: join(dir, "x.tab.txt"),
  json: join(dir, "x.sheet.json"),
});
const report = (verdict: "same" | "differs"): CheckReport => ({
  summary: { written: 0, matched: 0, missing: 0, extra: 0, wrongPitch: 0, timing: 0 },
  bars: [{ bar: 1, verdict }],
  differences: [],
  findings: [],
  heardAtSec: [],
});

beforeEach(async () => {
  dir = await mkdtemp(join(tmpdir(), "pulgar-desk-"));
  const [bars, asked]: [typeof redecided, typeof checks] = [[], []]; // this desk's own: an earlier one may still be at work
  [events, redecided, checks] = [[], bars, asked];
  const keeper = await keepSheet(files(), codec);
  await keeper.save(first);
  const recording = {
    state: () => ({ kind: "none", why: "No recording." }),
    durationSec: () => 30,
    listening: () => ({}) as Listening,
  } as unknown as Recording;
  const music: MusicDeps = {
    applyEdit,
    siblingEdits,
    redecide: (sheet, touched) => {
      bars.push([...touched]);
      return sheet;
    },
    check: (sheet) =>
      new Promise((answer, refuse) => {
        asked.push({ sheet, answer, refuse });
      }),
  };
  const history = await openHistory(
    stepsFile(files()),
    { toJson: sheetToJson, fromJson: sheetFromJson },
    first,
  );
  desk = openDesk(first, keeper, recording, music, history);
  desk.subscribe((event) => events.push(event));
});
afterEach(() => drop(dir));

const mend = async (...edits: Edit[]) => desk.mend(desk.state().version, edits);
const onDisk = async (): Promise<Sheet> => sheetFromJson(JSON.parse(await readFile(files().json, "utf8")));

test("review desk: a mend is on disk before it is answered, told to every page, and can be undone and redone", async () => {
  const before = desk.state().version;
  const { status, state } = await mend(fret(4));
  expect([status, fretOf(state.sheet), fretOf(await onDisk()), state.undoCount]).toEqual([200, 4, 4, 1]);
  expect(state.version).not.toBe(before);
  expect(events.filter((e) => e.kind === "changed")).toHaveLength(1);
  expect(redecided).toEqual([[1]]);
  const undone = await desk.undo(state.version);
  expect([fretOf(undone.state.sheet), fretOf(await onDisk()), undone.state.redoCount]).toEqual([2, 2, 1]);
  const redone = await desk.redo(undone.state.version);
  expect([fretOf(redone.state.sheet), fretOf(await onDisk()), redone.state.redo]).toEqual([4, 4, null]);
  await expect(desk.redo(redone.state.version)).rejects.toSatisfy(
    (e) => e instanceof PulgarError && e.code === "bad-usage",
  );
});

test("review desk: two tabs that mend at once: the later is told, and nothing of the earlier is lost", async () => {
  const { version } = desk.state();
  const [one, two] = await Promise.all([desk.mend(version, [fret(4)]), desk.mend(version, [fret(9)])]);
  expect([one.status, two.status]).toEqual([200, 409]);
  expect(two.state.notice).toContain("changed elsewhere");
  expect([fretOf(two.state.sheet), fretOf(await onDisk())]).toEqual([4, 4]);
});

test("review desk: of several edits that belong together, all or none is made", async () => {
  const wrong: Edit = { kind: "delete-note", at: { bar: 1, tick: 1, string: 1 } };
  await expect(mend(fret(4), wrong)).rejects.toSatisfy(
    (e) => e instanceof PulgarError && e.code === "bad-usage",
  );
  expect([fretOf(desk.state().sheet), fretOf(await onDisk()), desk.state().undoCount]).toEqual([2, 2, 0]);
});

test("review desk: the same is offered for the bars that are alike, once, and is one step", async () => {
  const { state } = await mend(fret(4));
  const alike = first.groupOfBar.flatMap((g, k) => (g === first.groupOfBar[0] && k > 0 ? [k + 1] : []));
  expect(state.offer?.bars).toEqual(alike);
  const done = await desk.applyOffer(state.version);
  for (const bar of alike)
    expect(done.state.sheet.notes.find((n) => n.bar === bar && n.tick === 12 && n.string === 3)?.fret).toBe(
      4,
    );
  expect([done.state.offer, done.state.undoCount]).toEqual([null, 2]);
  await expect(desk.applyOffer(done.state.version)).rejects.toThrow("nothing to repeat");
});

test("review desk: an edit outside is taken in, said, and is a step", async () => {
  await mend(fret(4));
  const theirs = (await readFile(files().text, "utf8")).replace(/^title: .*$/m, "title: Theirs");
  await writeFile(files().text, theirs);
  await desk.look();
  const state = desk.state();
  expect([state.sheet.title, fretOf(state.sheet), state.undo]).toEqual([
    "Theirs",
    4,
    "the change made outside",
  ]);
  expect(state.notice).toContain("changed outside");
  const undone = await desk.undo(state.version);
  expect([undone.state.sheet.title, fretOf(undone.state.sheet)]).toEqual([first.title, 4]);
});

test("review desk: one check at a time; its word is marked with the version it is of; what was mended meanwhile is checked after it", async () => {
  desk.recheck();
  await expect.poll(() => checks.length).toBe(1);
  const { state } = await mend(fret(4));
  desk.recheck(); // one is under way
  expect(checks).toHaveLength(1);
  checks[0]?.answer(report("same"));
  await expect.poll(() => checks.length).toBe(2);
  expect(desk.state().check).toMatchObject({ kind: "done" });
  expect(desk.state().check).not.toMatchObject({ version: state.version });
  expect(fretOf(checks[1]?.sheet as Sheet)).toBe(4);
  checks[1]?.answer(report("differs"));
  await expect
    .poll(() => desk.state().check)
    .toMatchObject({
      kind: "done",
      version: state.version,
      verdicts: [{ bar: 1, verdict: "differs" }],
    });
  desk.recheck();
  await expect.poll(() => checks.length).toBe(3);
  checks[2]?.refuse(new PulgarError("other-music", "other music", "Name the right take."));
  await expect
    .poll(() => desk.state().check)
    .toEqual({ kind: "none", why: "other music. Name the right take." });
});
