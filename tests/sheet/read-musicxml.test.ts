import fc from "fast-check";
import { expect, test } from "vitest";
import { PulgarError } from "../../src/base/errors.js";
import { toMusicXml } from "../../src/export/musicxml.js";
import { readSheet } from "../../src/sheet/read-any.js";
import { sheetFromMusicXml } from "../../src/sheet/read-musicxml.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import { namedStudies } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";

const music = (sheet: Sheet) => ({
  openMidi: sheet.openMidi,
  capo: sheet.capo,
  meter: sheet.grid.meter,
  barCount: sheet.grid.barCount,
  pickupBeats: sheet.grid.pickupBeats,
  notes: sheet.notes.map(({ bar, tick, lengthTicks, string, fret, midi, finger, leftFinger, marks }) => ({
    bar,
    tick,
    lengthTicks,
    string,
    fret,
    midi,
    finger,
    leftFinger,
    marks,
  })),
  chords: sheet.chords.map(({ bar, beat, symbol }) => ({ bar, beat, symbol })),
  mode: sheet.mode && `${sheet.mode.tonic} ${sheet.mode.mode}`,
  form: sheet.form,
});

for (const study of namedStudies())
  for (const notationStaff of [false, true])
    test(`sheet/read-musicxml: ${study.name} comes back whole from our export, notation staff ${notationStaff}`, () => {
      const sheet = toSheet(study);
      const read = readSheet(toMusicXml(sheet, { notationStaff }).bytes, "x.musicxml");
      expect(read.findings).toEqual([]);
      if (read.kind !== "tab") throw new Error("no strings");
      expect(music(read.sheet)).toEqual(music(sheet));
    });

/** A document as the W3C MusicXML 4.0 element reference describes it; written by hand for these tests. */
const score = (measures: string, head = ""): string =>
  `<?xml version="1.0" encoding="UTF-8"?>\n<score-partwise version="4.0">${head}<part-list><score-part id="P1"><part-name>G</part-name></score-part></part-list><part id="P1">${measures}</part></score-partwise>`;
const attributes =
  "<attributes><divisions>2</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>";
const note = (step: string, octave: number, duration: number, more = "", place = ""): string =>
  `<note>${more}<pitch><step>${step}</step><octave>${octave}</octave></pitch><duration>${duration}</duration><voice>1</voice>${
    place === "" ? "" : `<notations><technical>${place}</technical></notations>`
  }</note>`;
const at = (string: number, fret: number, more = ""): string =>
  `${more}<string>${string}</string><fret>${fret}</fret>`;
const sheetOf = (text: string): Sheet => {
  const read = sheetFromMusicXml(text);
  if (read.kind !== "tab") throw new Error("no strings");
  return read.sheet;
};

test("sheet/read-musicxml: backup begins a second voice at the bar's start (W3C MusicXML 4.0, element backup)", () => {
  const sheet = sheetOf(
    score(
      `<measure number="1">${attributes}${note("E", 4, 4, "", at(1, 0, "<pluck>a</pluck>"))}${note("G", 4, 4, "", at(1, 3))}<backup><duration>8</duration></backup>${note("A", 2, 8, "", at(5, 0, "<pluck>p</pluck>"))}</measure>`,
    ),
  );
  expect(sheet.notes.map((n) => [n.tick, n.lengthTicks, n.string, n.fret, n.midi, n.finger])).toEqual([
    [0, 96, 5, 0, 45, "p"],
    [0, 48, 1, 0, 64, "a"],
    [48, 48, 1, 3, 67, undefined],
  ]);
});

test("sheet/read-musicxml: a tie within a bar is one note, over the bar line two (elements tie, tied)", () => {
  const tie = (type: string): string => `<tie type="${type}"/>`;
  const tied = (step: string, ties: string, duration: number): string =>
    `<note><pitch><step>${step}</step><octave>4</octave></pitch><duration>${duration}</duration>${ties}<voice>1</voice><notations><technical>${at(1, 0)}</technical></notations></note>`;
  const sheet = sheetOf(
    score(
      `<measure number="1">${attributes}${note("B", 3, 3, "", at(2, 0))}${tied("E", tie("start"), 1)}${tied("E", tie("stop") + tie("start"), 4)}</measure><measure number="2">${tied("E", tie("stop"), 8)}</measure>`,
    ),
  );
  expect(sheet.notes.map((n) => [n.bar, n.tick, n.lengthTicks, n.marks])).toEqual([
    [1, 0, 36, []],
    [1, 36, 60, []],
    [2, 0, 96, ["tie"]],
  ]);
});

test("sheet/read-musicxml: tuning, capo, tempo, swing, pick-up, harmony, repeat and endings by the element reference", () => {
  const head = `<attributes><divisions>24</divisions><time><beats>3</beats><beat-type>4</beat-type></time><staff-details><staff-lines>6</staff-lines>${[
    ["D", 2],
    ["A", 2],
    ["D", 3],
    ["G", 3],
    ["A", 3],
    ["D", 4],
  ]
    .map(
      ([step, octave], k) =>
        `<staff-tuning line="${k + 1}"><tuning-step>${step}</tuning-step><tuning-octave>${octave}</tuning-octave></staff-tuning>`,
    )
    .join(
      "",
    )}<capo>2</capo></staff-details></attributes><direction><sound tempo="72"><swing><first>2</first><second>1</second></swing></sound></direction>`;
  const bar = (number: number, inside: string, before = ""): string =>
    `<measure number="${number}">${before}${note("E", 4, 72, "", at(1, 0))}${inside}</measure>`;
  const sheet = sheetOf(
    score(
      `<measure number="0" implicit="yes">${head}${note("E", 4, 24, "", at(1, 0))}</measure>` +
        bar(
          1,
          "",
          `<barline location="left"><repeat direction="forward"/></barline><harmony><root><root-step>F</root-step><root-alter>1</root-alter></root><kind>minor-seventh</kind><bass><bass-step>E</bass-step></bass></harmony>`,
        ) +
        bar(
          2,
          `<barline location="right"><ending number="1,2" type="stop"/><repeat direction="backward"/></barline>`,
          `<barline location="left"><ending number="1,2" type="start"/></barline>`,
        ) +
        bar(
          3,
          `<barline location="right"><ending number="3" type="discontinue"/></barline>`,
          `<barline location="left"><ending number="3" type="start"/></barline>`,
        ) +
        bar(4, ""),
      "<work><work-title>Low &amp; slow</work-title></work>",
    ),
  );
  expect(sheet).toMatchObject({
    title: "Low & slow",
    openMidi: [38, 45, 50, 55, 57, 62],
    tuningName: "dadgad",
    capo: 2,
    grid: {
      tempoBpm: 72,
      feel: "swing",
      swingRatio: 2,
      pickupBeats: 1,
      barCount: 4,
      meter: { beats: 3, unit: 4 },
    },
    repeats: [
      {
        fromBar: 1,
        toBar: 3,
        times: 3,
        endings: [
          { times: [1, 2], bars: [2] },
          { times: [3], bars: [3] },
        ],
      },
    ],
  });
  expect(sheet.notes.map((n) => n.bar)).toEqual([0, 1, 2, 3, 4]);
  expect(sheet.chords).toMatchObject([{ bar: 1, beat: 1, symbol: "F#m7/E", root: "F#", bass: "E" }]);
});

test("sheet/read-musicxml: three in the time of two are eight ticks each (element time-modification)", () => {
  const third = (step: string, fret: number): string =>
    `<note><pitch><step>${step}</step><octave>4</octave></pitch><duration>4</duration><voice>1</voice><type>eighth</type><time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification><notations><technical>${at(1, fret)}</technical></notations></note>`;
  const sheet = sheetOf(
    score(
      `<measure number="1"><attributes><divisions>12</divisions><time><beats>1</beats><beat-type>4</beat-type></time></attributes>${third("E", 0)}${third("F", 1)}${third("G", 3)}</measure>`,
    ),
  );
  expect(sheet.notes.map((n) => [n.tick, n.lengthTicks])).toEqual([
    [0, 8],
    [8, 8],
    [16, 8],
  ]);
});

test("sheet/read-musicxml: a player's strings and fingers over pitches come as marks (element reference: string, fingering, pluck)", () => {
  const read = sheetFromMusicXml(
    score(
      `<measure number="1">${attributes}${note("E", 4, 2, "", "<string>2</string>")}${note("C", 4, 2, "", "<fingering>1</fingering>")}${note("G", 3, 4)}</measure>`,
    ),
  );
  if (read.kind !== "pitches") throw new Error("strings from nowhere");
  expect(read.marks).toEqual([
    { bar: 1, tick: 0, midi: 64, string: 2 },
    { bar: 1, tick: 24, midi: 60, leftFinger: 1 },
  ]);
});

test("sheet/read-musicxml: two voices in unison sound as long as the longer one", () => {
  const read = sheetFromMusicXml(
    score(
      `<measure number="1">${attributes}${note("B", 3, 1)}${note("D", 4, 1)}<backup><duration>2</duration></backup>${note("B", 3, 4)}</measure>`,
    ),
  );
  if (read.kind !== "pitches") throw new Error("strings from nowhere");
  expect(read.notes.map((n) => [n.midi, n.lengthTicks])).toEqual([
    [59, 48],
    [62, 12],
  ]);
});

test("sheet/read-musicxml: without string and fret the pitches come with bars and times", () => {
  const read = sheetFromMusicXml(
    score(
      `<measure number="1">${attributes}${note("A", 2, 4)}${note("E", 4, 4)}</measure><measure number="2">${note("C", 4, 8)}</measure>`,
    ),
  );
  if (read.kind !== "pitches") throw new Error("strings from nowhere");
  expect(read.notes.map((n) => [n.bar, n.tick, n.midi, n.onsetSec])).toEqual([
    [1, 0, 45, 0],
    [1, 48, 64, 1],
    [2, 0, 60, 2],
  ]);
  expect(read.grid.beatSec.length).toBe(9);
});

const refusals: [string, string, string, RegExp][] = [
  [
    "an entity of its own",
    "bad-xml",
    `<?xml version="1.0"?>\n<!DOCTYPE score-partwise [<!ENTITY a "aaaa">]>\n<score-partwise/>`,
    /line 2, column 1/,
  ],
  [
    "an external document type",
    "bad-xml",
    `<!DOCTYPE score-partwise SYSTEM "file:///etc/passwd"><score-partwise/>`,
    /line 1, column 1/,
  ],
  [
    "an unknown entity",
    "bad-xml",
    "<score-partwise>\n <a>&boom;</a></score-partwise>",
    /line 2, column 5: &boom;/,
  ],
  [
    "a tag that is closed by another",
    "bad-xml",
    "<score-partwise>\n<a>\n</b></score-partwise>",
    /line 3, column 1/,
  ],
  ["a file cut short", "bad-xml", "<score-partwise><part>", /line 1, column 23: the file ends inside <part>/],
  ["timewise scores", "bad-xml", "<score-timewise/>", /score-timewise/],
  ["another document", "bad-xml", "<html></html>", /html/],
  [
    "a fret that is no number",
    "bad-xml",
    score(
      `<measure number="1">${attributes}${note("E", 4, 4, "", "<string>1</string><fret>x</fret>")}</measure>`,
    ),
    /line 2, column \d+: <fret>/,
  ],
  [
    "string 7",
    "bad-xml",
    score(`<measure number="1">${attributes}${note("E", 4, 4, "", at(7, 1))}</measure>`),
    /<string>/,
  ],
  [
    "a note without duration",
    "bad-xml",
    score("<measure number='1'><note><pitch><step>E</step><octave>4</octave></pitch></note></measure>"),
    /duration/,
  ],
  ["a score of rests", "no-notes", score("<measure number='1'/>"), /no notes/],
];
for (const [what, code, text, message] of refusals)
  test(`sheet/read-musicxml: ${what} is refused with its place`, () => {
    expect(() => sheetFromMusicXml(text)).toThrow(message);
    expect(() => sheetFromMusicXml(text)).toThrow(expect.objectContaining({ code }));
  });

test("sheet/read-musicxml: the document type of the standard is no hindrance", () => {
  const text = score(`<measure number="1">${attributes}${note("E", 4, 8, "", at(1, 0))}</measure>`).replace(
    "?>\n",
    '?>\n<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" "http://www.musicxml.org/dtds/partwise.dtd">\n',
  );
  expect(sheetOf(text).notes.length).toBe(1);
});

test("sheet/read-musicxml: a bruised score gives music or an error with a code, never another failure", () => {
  const whole = new TextDecoder()
    .decode(toMusicXml(toSheet(namedStudies()[0] as never)).bytes)
    .slice(0, 12_000);
  fc.assert(
    fc.property(fc.nat(whole.length), fc.nat(30), fc.string({ maxLength: 8 }), (from, len, put) => {
      try {
        sheetFromMusicXml(whole.slice(0, from) + put + whole.slice(from + len));
      } catch (e) {
        expect(e).toBeInstanceOf(PulgarError);
      }
    }),
    { numRuns: 400, seed: 11 },
  );
});
