import fc from "fast-check";
import { expect, test } from "vitest";
import { musicXmlText } from "../../src/export/musicxml.js";
import { sheetFromMusicXml } from "../../src/sheet/read-musicxml.js";
import type { Sheet, SheetNote } from "../../src/sheet/sheet.js";
import { composeStudy } from "../helpers/takes/compose.js";
import { namedStudies, specBySeed } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";
import { anySheet } from "../sheet/any-sheet.js";

/** What the README's table says that the format keeps, as plain data in one order. */
const kept = (sheet: Sheet) => ({
  title: sheet.title,
  composer: sheet.composer,
  capo: sheet.capo,
  openMidi: sheet.openMidi,
  meter: sheet.grid.meter,
  tempoBpm: sheet.grid.tempoBpm,
  feel: sheet.grid.feel,
  swingRatio: sheet.grid.swingRatio,
  barCount: sheet.grid.barCount,
  pickupBeats: sheet.grid.pickupBeats,
  form: sheet.form,
  repeats: sheet.repeats,
  mode: sheet.mode && `${sheet.mode.tonic} ${sheet.mode.mode}`,
  chords: sheet.chords.map(({ bar, beat, symbol, root, bass }) => ({ bar, beat, symbol, root, bass })),
  notes: sheet.notes.map(noteLine).sort(),
});
const noteLine = (n: SheetNote): string =>
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
  ].join(" ");

function throughXml(sheet: Sheet, notationStaff: boolean): Sheet {
  const back = sheetFromMusicXml(musicXmlText(sheet, { notationStaff }));
  if (back.kind !== "tab") throw new Error("came back without strings");
  expect(back.findings).toEqual([]);
  return back.sheet;
}

test("round trip: Sheet → MusicXML → Sheet is the identity on every composed study, with and without the notation staff", () => {
  const studies = [...namedStudies(), ...Array.from({ length: 20 }, (_, k) => composeStudy(specBySeed(k)))];
  expect(studies.length).toBeGreaterThan(35);
  for (const study of studies)
    for (const notationStaff of [false, true])
      expect(kept(throughXml(toSheet(study), notationStaff)), study.name).toEqual(kept(toSheet(study)));
});

/** A tie inside a bar is a longer note, in our text as in any score: the tied note is joined to the one that it continues, and a tie mark
 * without one is left to the bar's head, where a second ending may have it. */
function tiesJoined(notes: readonly SheetNote[]): SheetNote[] {
  const out: SheetNote[] = [];
  for (const note of notes) {
    if (!note.marks.includes("tie") || note.tick === 0) out.push({ ...note });
    else {
      const before = out.findLast(
        (n) => n.bar === note.bar && n.string === note.string && !n.marks.includes("grace"),
      );
      if (before?.fret === note.fret && before.tick + before.lengthTicks === note.tick)
        before.lengthTicks += note.lengthTicks;
      else out.push({ ...note, marks: note.marks.filter((m) => m !== "tie") });
    }
  }
  return out;
}

/** A generated sheet in the form that any writer of scores gives it. Nothing is taken out but what no score can say:
 * a section without a name, a pick-up shorter than its notes; a grace note stands before a main note and is a thirty-second. */
function written(raw: Sheet): Sheet {
  const beatTicks = 24;
  const grid = { ...raw.grid };
  const inPickup = raw.notes.filter((n) => n.bar === 0).map((n) => n.tick + 1);
  grid.pickupBeats = Math.max(grid.pickupBeats, Math.ceil(Math.max(0, ...inPickup) / beatTicks));
  const isGrace = (n: SheetNote): boolean => n.marks.includes("grace");
  const places = new Set<string>();
  const settled = raw.notes.flatMap((n): SheetNote[] => {
    if (!isGrace(n)) return [n];
    const main = raw.notes.find((m) => m.bar === n.bar && !isGrace(m));
    const place = `${n.bar} ${main?.tick} ${n.string}`;
    if (!main || places.has(place)) return [];
    places.add(place);
    return [{ ...n, tick: main.tick, lengthTicks: 3, marks: n.marks.filter((m) => m !== "tie") }];
  });
  const notes = tiesJoined(settled);
  const named = raw.form.filter((p) => p.label !== "");
  const form = named.map((p, k) => {
    const [first, next] = [p.bars[0] ?? 1, named[k + 1]?.bars[0] ?? grid.barCount + 1];
    return { label: p.label, bars: Array.from({ length: next - first }, (_, i) => first + i) };
  });
  return { ...raw, grid, notes, form };
}

test("round trip: generated sheets come back whole through MusicXML: pick-ups, ties, triplets, endings, swing, every mark, every mode", () => {
  const seen = {
    pickup: 0,
    tie: 0,
    grace: 0,
    endings: 0,
    swing: 0,
    triplet: 0,
    slide: 0,
    harmonic: 0,
    ring: 0,
  };
  fc.assert(
    fc.property(anySheet, fc.boolean(), (raw, notationStaff) => {
      const sheet = written(raw);
      if (sheet.notes.length === 0) return;
      seen.pickup += Number(sheet.grid.pickupBeats > 0);
      seen.endings += Number(sheet.repeats.some((r) => r.endings.length > 0));
      seen.swing += Number(sheet.grid.feel === "swing");
      seen.triplet += Number(sheet.notes.some((n) => n.tick % 24 === 8));
      for (const [key, mark] of [
        ["tie", "tie"],
        ["grace", "grace"],
        ["slide", "slide"],
        ["harmonic", "harmonic"],
        ["ring", "let-ring"],
      ] as const)
        seen[key] += Number(sheet.notes.some((n) => n.marks.includes(mark)));
      expect(kept(throughXml(sheet, notationStaff))).toEqual(kept(sheet));
    }),
    { numRuns: 400, seed: 11 },
  );
  for (const [what, count] of Object.entries(seen)) expect(count, what).toBeGreaterThan(10);
});
