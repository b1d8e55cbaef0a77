import { execFileSync } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import fc from "fast-check";
import { unzipSync } from "fflate";
import { expect, test } from "vitest";
import { musicXmlText, toMusicXml, toMxl } from "../../src/export/musicxml.js";
import type { Sheet, SheetNote } from "../../src/sheet/sheet.js";
import { hasProgram, hasShared, SHARED, testNeeding } from "../helpers/needs.js";
import { composeStudy } from "../helpers/takes/compose.js";
import { namedStudies, specBySeed } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";
import { anySheet } from "../sheet/any-sheet.js";
import { readBack } from "./musicxml-back.js";

const sheets = (): Sheet[] =>
  [...namedStudies(), ...Array.from({ length: 12 }, (_, k) => composeStudy(specBySeed(k)))].map((s) =>
    toSheet(s),
  );

/** What a note is as music, in one order. A tie within a bar is a longer note by our rule, so the mark is kept on first beats only. */
function music(
  notes: readonly Pick<
    SheetNote,
    "bar" | "tick" | "lengthTicks" | "string" | "fret" | "midi" | "finger" | "leftFinger" | "marks"
  >[],
) {
  return notes
    .map((n) => ({
      bar: n.bar,
      tick: n.tick,
      lengthTicks: n.lengthTicks,
      string: n.string,
      fret: n.fret,
      midi: n.midi,
      finger: n.finger,
      leftFinger: n.leftFinger,
      marks: [...n.marks].sort(),
    }))
    .sort((a, b) => a.bar - b.bar || a.tick - b.tick || b.string - a.string || a.fret - b.fret);
}

/** A sheet whose ties all stand at the head of a bar, with one note a string and tick. */
function plain(sheet: Sheet): Sheet {
  const seen = new Set<string>();
  const notes = sheet.notes.flatMap((n): SheetNote[] => {
    const key = `${n.bar} ${n.tick} ${n.string}`;
    if (n.marks.includes("grace") || seen.has(key)) return [];
    seen.add(key);
    return [{ ...n, marks: n.tick === 0 ? n.marks : n.marks.filter((m) => m !== "tie") }];
  });
  return { ...sheet, notes };
}

test("musicxml: studies read back note for note, chord for chord, by a second reader", () => {
  const list = sheets();
  expect(list.length).toBeGreaterThan(20);
  for (const sheet of list) {
    const back = readBack(musicXmlText(sheet));
    expect(music(back.notes as unknown as SheetNote[]), sheet.title).toEqual(music(sheet.notes));
    expect(back.chords.map((c) => `${c.bar} ${c.tick} ${c.symbol}`)).toEqual(
      sheet.chords.map((c) => `${c.bar} ${Math.round((c.beat - 1) * 24)} ${c.symbol}`),
    );
    expect([back.title, back.capo, back.tuning]).toEqual([sheet.title, sheet.capo, sheet.openMidi]);
    expect(back.rehearsals).toEqual(sheet.form.map((p) => [p.bars[0], p.label]));
  }
});

test("musicxml: any generated sheet reads back note for note: every meter, division, mark, overlap and pick-up", () => {
  fc.assert(
    fc.property(anySheet, (raw) => {
      const sheet = plain(raw);
      const back = readBack(musicXmlText(sheet));
      expect(music(back.notes as unknown as SheetNote[])).toEqual(music(sheet.notes));
      expect(back.tuning).toEqual(sheet.openMidi);
    }),
    { numRuns: 150, seed: 9 },
  );
});

test("musicxml: the staff of notation above does not change what the tab says", () => {
  const sheet = sheets()[0] as Sheet;
  const back = readBack(musicXmlText(sheet, { notationStaff: true }));
  const tab = back.notes.filter((n) => !Number.isNaN(n.string));
  expect(music(tab as unknown as SheetNote[])).toEqual(music(sheet.notes));
  expect(back.notes.length).toBe(2 * sheet.notes.length);
});

test("musicxml: swing 3:2, dotted tempo and endings are written as the standard has them (W3C MusicXML 4.0, swing, ending, repeat)", () => {
  const base = sheets()[0] as Sheet;
  const sheet: Sheet = {
    ...base,
    grid: { ...base.grid, feel: "swing", swingRatio: 1.5 },
    repeats: [
      {
        fromBar: 1,
        toBar: 4,
        times: 3,
        endings: [
          { times: [1, 2], bars: [3] },
          { times: [3], bars: [4] },
        ],
      },
    ],
  };
  const back = readBack(musicXmlText(sheet));
  expect(back.swing).toBe(1.5);
  expect(back.tempo).toBe(sheet.grid.tempoBpm);
  expect(back.repeats).toEqual([
    "1 forward",
    "3 ending 1,2 start",
    "3 ending 1,2 stop",
    "3 backward 3",
    "4 ending 3 start",
    "4 ending 3 discontinue",
  ]);
});

test("musicxml: a compressed file holds the same score behind its container (W3C container.xml)", () => {
  const sheet = sheets()[1] as Sheet;
  const files = unzipSync(toMxl(sheet).bytes);
  expect(Object.keys(files)).toEqual(["mimetype", "META-INF/container.xml", "score.musicxml"]);
  expect(files["score.musicxml"]).toEqual(toMusicXml(sheet).bytes);
  expect(new TextDecoder().decode(files["META-INF/container.xml"])).toContain('full-path="score.musicxml"');
  expect(toMxl(sheet).bytes).toEqual(toMxl(sheet).bytes);
});

testNeeding(
  hasShared("musicxml-4.0/musicxml.xsd") && hasProgram("xmllint"),
  "the W3C schema of MusicXML 4.0 and xmllint",
  "musicxml: every study and many odd sheets are valid by the W3C schema",
  () => {
    const folder = mkdtempSync(join(tmpdir(), "pulgar-xml-"));
    try {
      const odd = fc.sample(anySheet, { numRuns: 40, seed: 4 });
      const files = [...sheets(), ...odd].flatMap((sheet, idx) =>
        [false, true].map((notationStaff) => {
          const path = join(folder, `${idx}-${notationStaff}.musicxml`);
          writeFileSync(path, toMusicXml(sheet, { notationStaff }).bytes);
          return path;
        }),
      );
      const schema = join(SHARED, "musicxml-4.0/musicxml.xsd");
      expect(() =>
        execFileSync("xmllint", ["--nonet", "--noout", "--schema", schema, ...files], { stdio: "pipe" }),
      ).not.toThrow();
      const broken = join(folder, "broken.musicxml");
      writeFileSync(
        broken,
        musicXmlText(sheets()[0] as Sheet)
          .replace("<duration>", "<durance>")
          .replace("</duration>", "</durance>"),
      );
      expect(() =>
        execFileSync("xmllint", ["--nonet", "--noout", "--schema", schema, broken], { stdio: "pipe" }),
      ).toThrow();
    } finally {
      rmSync(folder, { recursive: true, force: true });
    }
  },
);
