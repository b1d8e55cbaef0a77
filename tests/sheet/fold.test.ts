import fc from "fast-check";
import { expect, test } from "vitest";
import { playedBars, playedEvents } from "../../src/base/playback.js";
import { musicXmlText } from "../../src/export/musicxml.js";
import { foldRepeats } from "../../src/sheet/fold.js";
import { sheetToJson } from "../../src/sheet/json.js";
import { sheetFromText } from "../../src/sheet/parse.js";
import { readSheetJson } from "../../src/sheet/read-json.js";
import { sheetFromMusicXml } from "../../src/sheet/read-musicxml.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import { sheetToText } from "../../src/sheet/text.js";
import { composeStudy } from "../helpers/takes/compose.js";
import { namedStudies, specBySeed, studyNamed } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";
import { anySheet } from "../sheet/any-sheet.js";

/** What is plucked, in playing order: beat, string and fret, by the unrolled repeats. */
function plucks(sheet: Sheet): string[] {
  const bars = playedBars({ ...sheet.grid, beatSec: [] }, sheet.repeats);
  return playedEvents(sheet.notes, sheet.grid, bars).map(
    (e) => `${e.startBeat.toFixed(3)} ${e.note.string} ${e.note.fret}`,
  );
}
/** The chord under every played bar. */
function chordLine(sheet: Sheet): string[] {
  const bars = playedBars({ ...sheet.grid, beatSec: [] }, sheet.repeats);
  return bars.flatMap(({ bar, startBeat }) =>
    sheet.chords.filter((c) => c.bar === bar).map((c) => `${startBeat + c.beat} ${c.symbol}`),
  );
}

test("fold: every composed study plays the same folded as written out, in fewer bars where a section comes back at once", () => {
  const studies = [...namedStudies(), ...Array.from({ length: 30 }, (_, k) => composeStudy(specBySeed(k)))];
  let foldedCount = 0;
  for (const study of studies) {
    const sheet = toSheet(study);
    const folded = foldRepeats(sheet);
    expect(plucks(folded), study.name).toEqual(plucks(sheet));
    expect(chordLine(folded), study.name).toEqual(chordLine(sheet));
    expect(folded.grid.barCount < sheet.grid.barCount).toBe(folded.repeats.length > 0);
    if (folded.repeats.length > 0) foldedCount++;
    // Every written bar belongs to one section, in order.
    expect(folded.form.flatMap((p) => p.bars)).toEqual(
      Array.from({ length: folded.grid.barCount }, (_, k) => k + 1),
    );
  }
  expect(foldedCount).toBeGreaterThan(10);
});

test("fold: A A B A with another fourth bar the second time is written A with two endings, B, A (by hand)", () => {
  const sheet = toSheet(studyNamed("stones-in-the-brook"));
  expect(sheet.form.map((p) => p.label).join("")).toBe("AABA");
  const folded = foldRepeats(sheet);
  expect(folded.grid.barCount).toBe(13);
  expect(folded.repeats).toEqual([
    {
      fromBar: 1,
      toBar: 5,
      times: 2,
      endings: [
        { times: [1], bars: [4] },
        { times: [2], bars: [5] },
      ],
    },
  ]);
  expect(folded.form).toEqual([
    { label: "A", bars: [1, 2, 3, 4, 5] },
    { label: "B", bars: [6, 7, 8, 9] },
    { label: "A", bars: [10, 11, 12, 13] },
  ]);
});

test("fold: one other fret, letter or chord early in the second playing keeps both written out", () => {
  const sheet = toSheet(studyNamed("corner-table"));
  expect(foldRepeats(sheet).repeats.length).toBe(1);
  const at = sheet.notes.findIndex((n) => n.bar === 5);
  const changed = (over: object): Sheet => ({
    ...sheet,
    notes: sheet.notes.map((n, k) => (k === at ? { ...n, ...over } : n)),
  });
  expect(foldRepeats(changed({ fret: 9, midi: 70 })).repeats).toEqual([]);
  expect(foldRepeats(changed({ finger: "a" })).repeats).toEqual([]);
  const chords = sheet.chords.map((c) => (c.bar === 5 ? { ...c, symbol: "N.C." } : c));
  expect(foldRepeats({ ...sheet, chords }).repeats).toEqual([]);
  expect(foldRepeats({ ...sheet, form: [] })).toEqual({ ...sheet, form: [] });
});

test("fold: a folded study goes through text, JSON and MusicXML with its repeats", () => {
  const folded = foldRepeats(toSheet(studyNamed("three-windows")));
  expect(folded.repeats.length).toBe(2);
  const xml = sheetFromMusicXml(musicXmlText(folded));
  if (xml.kind !== "tab") throw new Error("no strings");
  for (const back of [
    sheetFromText(sheetToText(folded)).sheet,
    readSheetJson(JSON.parse(JSON.stringify(sheetToJson(folded)))),
    xml.sheet,
  ]) {
    expect(back.repeats).toEqual(folded.repeats);
    expect(back.form).toEqual(folded.form);
    expect(plucks(back)).toEqual(plucks(folded));
  }
});

test("fold: any sheet plays the same, folded or not", () => {
  fc.assert(
    fc.property(anySheet, (sheet) => {
      const folded = foldRepeats({ ...sheet, repeats: [] });
      expect(plucks(folded)).toEqual(plucks({ ...sheet, repeats: [] }));
    }),
    { numRuns: 200, seed: 21 },
  );
});
