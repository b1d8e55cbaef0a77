import { openHandout } from "../../cli/engraver.js";
import { openStretcher } from "../../cli/stretcher.js";
import { handoutPages, toPdf, toSvg } from "../../src/export/handout.js";
import { toMidi } from "../../src/export/midi.js";
import { toMusicXml, toMxl } from "../../src/export/musicxml.js";
import { encodeWav } from "../../src/export/wav.js";
import { backingTrack } from "../../src/play/backing.js";
import { practiceTrack } from "../../src/play/practice.js";
import { renderSheet } from "../../src/play/strings.js";
import { sheetToJson } from "../../src/sheet/json.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import { sheetToText } from "../../src/sheet/text.js";
import { studyNamed } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";
import type { BenchCase, Cell } from "./bench-case.js";

const RATE = 44100;

/** A study played round and round until it lasts four minutes. */
function fourMinutes(): Sheet {
  const base = toSheet(studyNamed("mixolydian-over-a"));
  const { barCount, meter, tempoBpm } = base.grid;
  const rounds = Math.ceil(240 / ((barCount * meter.beats * 60) / tempoBpm));
  const again = <T extends { bar: number }>(list: readonly T[]): T[] =>
    Array.from({ length: rounds }, (_, k) => list.map((x) => ({ ...x, bar: x.bar + k * barCount }))).flat();
  const bars = barCount * rounds;
  const beatSec = Array.from({ length: bars * meter.beats + 1 }, (_, k) => (k * 60) / tempoBpm);
  return {
    ...base,
    notes: again(base.notes),
    chords: again(base.chords),
    grid: { ...base.grid, barCount: bars, beatSec },
  };
}

/** Seconds to write a four-minute study in every format, and its practice sound. */
const bench: BenchCase = {
  name: "export",
  run: async () => {
    const sheet = fourMinutes();
    const rows: Cell[][] = [];
    let formatsSec = 0;
    let formatsCpuSec = 0;
    const timed = async <T>(
      what: string,
      isFormat: boolean,
      work: () => T | Promise<T>,
      soundSec?: (made: T) => number,
    ): Promise<T> => {
      const from = performance.now();
      const cpuFrom = process.cpuUsage();
      const made = await work();
      const sec = (performance.now() - from) / 1000;
      const { user, system } = process.cpuUsage(cpuFrom);
      const cpuSec = (user + system) / 1e6; // what a busy machine does not change
      if (isFormat) {
        formatsSec += sec;
        formatsCpuSec += cpuSec;
      }
      const long = soundSec?.(made);
      rows.push([what, sec, cpuSec, long, long === undefined ? undefined : sec / long]);
      return made;
    };
    const deps = await timed("open engraver and fonts", true, openHandout);
    await timed("text", true, () => sheetToText(sheet));
    await timed("json", true, () => JSON.stringify(sheetToJson(sheet)));
    await timed("musicxml", true, () => toMusicXml(sheet));
    await timed("mxl", true, () => toMxl(sheet));
    await timed("midi", true, () => toMidi(sheet));
    const pages = await timed("engraving", true, () => handoutPages(sheet, deps));
    await timed("svg", true, () => toSvg(sheet, pages, deps));
    await timed("pdf", true, () => toPdf(sheet, pages, deps));
    const sound = await timed("sound of the sheet", true, () => renderSheet(sheet, { sampleRateHz: RATE }));
    await timed("wav", true, () => encodeWav(sound, RATE));
    const open = await openStretcher();
    const last = sheet.grid.barCount;
    for (const percent of [50, 75, 100])
      await timed(
        `practice at ${percent} %`,
        false,
        () =>
          practiceTrack(
            sound,
            RATE,
            sheet.grid,
            { percent, fromBar: 1, toBar: last, loops: 1, countInBeats: 4, clickGain: 0.35 },
            open,
          ),
        (made) => made.samples.length / RATE,
      );
    await timed(
      "backing track",
      false,
      () => backingTrack(sheet, { sampleRateHz: RATE, countInBeats: 4 }),
      (made) => made.left.length / RATE,
    );
    return {
      title: "A four-minute study in every format, and its practice sound",
      columns: ["what", "seconds", "of the processor", "sound, s", "share of its length"],
      rows,
      summary: [["all formats together", formatsSec, formatsCpuSec, undefined, undefined]],
      notes: ["Wanted: all formats under 5 s, practice sound under a tenth of its length."],
    };
  },
};

export default bench;
