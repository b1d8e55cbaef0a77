import { VerovioToolkit } from "verovio/esm";
import createVerovioModule from "verovio/wasm";
import { expect, test, vi } from "vitest";
import { musicXmlText } from "../../src/export/musicxml.js";
import { namedStudies } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";

test("musicxml: verovio 6.3 reads every study, shows every fret, and complains of nothing but the picking letters it cannot draw", async () => {
  const said: string[] = [];
  const module = await createVerovioModule();
  const hush = ["log", "warn", "error", "info"] as const;
  const spies = hush.map((name) =>
    vi.spyOn(console, name).mockImplementation((...words) => void said.push(words.join(" "))),
  );
  const toolkit = new VerovioToolkit(module);
  toolkit.setOptions({ breaks: "auto", pageHeight: 60000, adjustPageHeight: true });
  try {
    for (const study of namedStudies()) {
      const sheet = toSheet(study);
      for (const notationStaff of [false, true]) {
        expect(toolkit.loadData(musicXmlText(sheet, { notationStaff })), study.name).toBeTruthy();
        const svg = toolkit.renderToSVG(1);
        // Each fret is a text of its own in a tab group: as many as the sheet has notes (a tied piece repeats its number).
        const frets = svg.match(/<tspan font-size="\d+px">\d+<\/tspan>/g)?.length ?? 0;
        expect(frets, study.name).toBeGreaterThanOrEqual(sheet.notes.length);
      }
      // Without the letters there is nothing at all to complain of.
      said.length = 0;
      const unlettered = { ...sheet, notes: sheet.notes.map(({ finger: _finger, ...note }) => note) };
      expect(toolkit.loadData(musicXmlText(unlettered)), study.name).toBeTruthy();
      expect(said, study.name).toEqual([]);
    }
  } finally {
    for (const spy of spies) spy.mockRestore();
  }
});
