import fc from "fast-check";
import { expect, test } from "vitest";
import { musicXmlText } from "../../src/export/musicxml.js";
import { sheetFromMusicXml } from "../../src/sheet/read-musicxml.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import { namedStudies } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";
import { anySheet } from "../sheet/any-sheet.js";

/** What the format keeps of a sheet, as plain data in one order. */
const kept = (sheet: Sheet) => ({
  title: sheet.title,
  capo: sheet.capo,
  openMidi: sheet.openMidi,
  meter: sheet.grid.meter,
  tempoBpm: sheet.grid.tempoBpm,
  feel: sheet.grid.feel,
  swingRatio: sheet.grid.swingRatio,
  barCount: sheet.grid.barCount,
  form: sheet.form,
  repeats: sheet.repeats,
  chords: sheet.chords.map(({ bar, beat, symbol, root, bass }) => ({ bar, beat, symbol, root, bass })),
  notes: notesOf(sheet),
});
const notesOf = (sheet: Sheet): string[] =>
  sheet.notes
    .map((n) =>
      [
        n.bar,
        n.tick,
        n.lengthTicks,
        n.string,
        n.fret,
        n.midi,
        n.finger,
        n.leftFinger,
        ...[...n.marks].sort(),
      ].join(" "),
    )
    .sort();

test("round trip: Sheet → MusicXML → Sheet is the identity on every study, with and without the notation staff", () => {
  const studies = namedStudies();
  expect(studies.length).toBeGreaterThan(15);
  for (const study of studies) {
    const sheet = toSheet(study);
    for (const notationStaff of [false, true]) {
      const back = sheetFromMusicXml(musicXmlText(sheet, { notationStaff }));
      if (back.kind !== "tab") throw new Error(`${study.name} came back without strings`);
      expect(kept(back.sheet), study.name).toEqual(kept(sheet));
    }
  }
});

test("round trip: the notes of generated sheets come back through MusicXML, every meter, division, mark and overlap", () => {
  fc.assert(
    fc.property(anySheet, (raw) => {
      // Ties stand at the head of a bar (inside a bar a tie is a longer note), grace notes are left to their own test.
      const sheet: Sheet = {
        ...raw,
        notes: raw.notes
          .filter((n) => !n.marks.includes("grace"))
          .map((n) => ({
            ...n,
            marks: n.tick === 0 && n.bar > 1 ? n.marks : n.marks.filter((m) => m !== "tie"),
          })),
      };
      // A pick-up as long as a bar is a bar to any reader.
      if (sheet.notes.length === 0 || sheet.grid.pickupBeats >= sheet.grid.meter.beats) return;
      const back = sheetFromMusicXml(musicXmlText(sheet));
      if (back.kind !== "tab") throw new Error("came back without strings");
      expect(notesOf(back.sheet)).toEqual(notesOf(sheet));
    }),
    { numRuns: 100, seed: 11 },
  );
});
