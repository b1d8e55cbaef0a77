import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { openSheet } from "../../cli/open-sheet.js";
import { toMidi } from "../../src/export/midi.js";
import { musicXmlText } from "../../src/export/musicxml.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import { studyNamed } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";

let folder = "";
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "pulgar-open-"));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const written: Sheet = {
  ...toSheet(studyNamed("mixolydian-over-a")),
  composer: "Composed here",
  repeats: [
    {
      fromBar: 1,
      toBar: 4,
      times: 2,
      endings: [
        { times: [1], bars: [3] },
        { times: [2], bars: [4] },
      ],
    },
  ],
};
/** The score as a program without tab writes it: pitches, but neither string nor fret. */
const untabbed = (sheet: Sheet): string =>
  musicXmlText(sheet).replace(/^\s*<(string|fret|pluck|fingering)>.*\n/gm, "");

test("open-sheet: MusicXML without strings keeps the chords, sections, repeats and composer that are written in it", async () => {
  const path = join(folder, "pitches.musicxml");
  writeFileSync(path, untabbed(written));
  const { sheet } = await openSheet(path, {});
  const chords = (of: Sheet): string[] => of.chords.map((c) => `${c.bar} ${c.beat} ${c.symbol} ${c.bass}`);
  expect(chords(sheet).length).toBeGreaterThan(4);
  expect(chords(sheet)).toEqual(chords(written));
  expect(sheet.chords.every((c) => c.by === "hand" && c.confidence === 1)).toBe(true);
  expect(sheet.form).toEqual(written.form);
  expect(sheet.repeats).toEqual(written.repeats);
  expect([sheet.title, sheet.composer]).toEqual(["Mixolydian over A", "Composed here"]);
  expect([sheet.mode?.tonic, sheet.mode?.mode]).toEqual(["A", "mixolydian"]);
  expect(sheet.notes.map((n) => `${n.bar} ${n.tick} ${n.midi}`).sort()).toEqual(
    written.notes.map((n) => `${n.bar} ${n.tick} ${n.midi}`).sort(),
  );
});

test("open-sheet: MusicXML without strings and without chords has its chords named from the notes", async () => {
  const path = join(folder, "bare.musicxml");
  writeFileSync(path, untabbed({ ...written, chords: [] }));
  const { sheet } = await openSheet(path, {});
  expect(sheet.chords.length).toBeGreaterThan(3);
  expect(sheet.chords.every((c) => c.by === "machine")).toBe(true);
});

test("open-sheet: a MIDI file gets strings, chords, mode and form", async () => {
  const path = join(folder, "pitches.mid");
  writeFileSync(path, toMidi({ ...written, repeats: [] }).bytes);
  const { sheet } = await openSheet(path, {});
  expect(sheet.notes.length).toBe(written.notes.length);
  for (const note of sheet.notes) expect((sheet.openMidi[6 - note.string] ?? 0) + note.fret).toBe(note.midi);
  expect([sheet.mode?.tonic, sheet.mode?.mode]).toEqual(["A", "mixolydian"]);
  expect(sheet.form.length).toBeGreaterThan(0);
});

test("open-sheet: a string that a player wrote over a pitch is kept, frets and the other strings are found around it", async () => {
  const path = join(folder, "marked.musicxml");
  const strings = musicXmlText(written)
    .replace(/^\s*<(fret|pluck|fingering)>.*\n/gm, "")
    .replace(/^\s*<string>(?!3<).*\n/gm, ""); // only what lies on string 3 is marked
  writeFileSync(path, strings);
  const { sheet } = await openSheet(path, {});
  const marked = written.notes.filter((n) => n.string === 3 && !n.marks.includes("tie"));
  expect(marked.length).toBeGreaterThan(4);
  for (const { bar, tick, midi, fret } of marked)
    expect(sheet.notes.find((n) => n.bar === bar && n.tick === tick && n.midi === midi)).toMatchObject({
      string: 3,
      fret,
      by: "hand",
    });
  expect(sheet.notes.some((n) => n.by === "machine")).toBe(true);
});
