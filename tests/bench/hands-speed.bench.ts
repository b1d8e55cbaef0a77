// Seconds of the fretboard search and the picking hand by number of notes: linear, 10 000 notes in under a second.
import { fretNotes, refretBar } from "../../src/hands/search.js";
import { hear } from "../helpers/hands/played.js";
import { studyNamed } from "../helpers/takes/studies.js";
import type { BenchCase, Cell } from "./bench-case.js";

const bench: BenchCase = {
  name: "hands-speed",
  run: async ({ quick }) => {
    const heard = hear(studyNamed("ladder-and-lamp"), { sharesRight: 0.7 });
    const lastBar = Math.max(...heard.notes.map((n) => n.bar));
    const lengthSec = Math.max(...heard.notes.map((n) => n.offsetSec)) + 0.5;
    const long = (count: number) =>
      Array.from({ length: count }, (_, k) => {
        const turn = Math.floor(k / heard.notes.length);
        const n = heard.notes[k % heard.notes.length]!;
        return {
          ...n,
          onsetSec: n.onsetSec + turn * lengthSec,
          offsetSec: n.offsetSec + turn * lengthSec,
          bar: n.bar + turn * lastBar,
        };
      });
    fretNotes(heard.notes, heard.instrument); // warm
    const rows: Cell[][] = [];
    for (const count of quick ? [1000] : [1000, 2500, 5000, 10000, 20000]) {
      const notes = long(count);
      const groupOfBar = Array.from({ length: notes[count - 1]!.bar }, (_, k) => k % lastBar);
      const start = performance.now();
      const before = process.cpuUsage();
      const fretted = fretNotes(notes, heard.instrument, { groupOfBar });
      const sec = (performance.now() - start) / 1000;
      const { user, system } = process.cpuUsage(before);
      const cpuSec = (user + system) / 1e6; // what it costs on a machine that has more to do
      const again = performance.now();
      refretBar(fretted, 3, heard.instrument, {
        locks: [{ bar: 3, tick: 0, midi: fretted[0]!.midi, string: 5 }],
      });
      rows.push([count, sec, cpuSec, (1e6 * cpuSec) / count, performance.now() - again]);
    }
    return {
      title: "Hands: speed",
      columns: ["notes", "seconds", "CPU seconds", "CPU µs a note", "one bar again, ms"],
      rows,
    };
  },
};

export default bench;
