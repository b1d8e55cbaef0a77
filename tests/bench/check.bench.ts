// The check on rendered takes of guitars that no training saw: right sheets for false alarms and the alignment, spoiled ones for the
// errors planted in them, by kind. Forms of the sheet: our own, MusicXML written and read again, plain tab as it is mailed, and a tab
// whose spacing says nothing. `--simulated` does without listener and sound; `--from=800 --to=829` takes studies by seed instead of the
// named ones, `--form=plain` one form of the sheet. The named studies and their seeds are not those that anything was set on.
import { alignSheet } from "../../src/check/align.js";
import { checkSheet } from "../../src/check/compare.js";
import { toMusicXml } from "../../src/export/musicxml.js";
import { readSheet } from "../../src/sheet/read-any.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import { f1Of, makeTrial, scoreTrial, type Tally, totalOf, withoutRhythm } from "../helpers/check/trial.js";
import { plainTab } from "../helpers/takes/plain-tab.js";
import { namedStudies, studyBySeed } from "../helpers/takes/studies.js";
import type { Study } from "../helpers/takes/study.js";
import { toSheet } from "../helpers/takes/to-sheet.js";
import { type BenchCase, type Cell, mean } from "./bench-case.js";
import { type CheckTake, openEar } from "./check-takes.js";

const FORMS = ["sheet", "musicxml", "plain tab", "bare order"] as const;
type Form = (typeof FORMS)[number];
const SEED = 4000;

/** A written study in one of the forms, read back as the command line reads it. */
function inForm(form: Form, written: Study, sheet: Sheet): Sheet {
  if (form === "sheet") return sheet;
  if (form === "bare order") return withoutRhythm(sheet);
  const file = form === "musicxml" ? toMusicXml(sheet) : undefined;
  const bytes = file?.bytes ?? new TextEncoder().encode(plainTab(written));
  const read = readSheet(bytes, file?.fileName ?? "study.txt");
  if (read.kind !== "tab") throw new Error(`${written.name}: the ${form} was read without strings`);
  // Plain tab names its strings but neither capo nor, in general, the tuning: both are given, as with --capo and --tuning.
  if (form === "musicxml") return read.sheet;
  const notes = read.sheet.notes.map((n) => ({
    ...n,
    midi: (written.openMidi[6 - n.string] ?? 0) + written.capo + n.fret,
  }));
  return { ...read.sheet, openMidi: [...written.openMidi], capo: written.capo, notes };
}

type Sums = {
  tallies: Map<string, Tally>;
  written: number;
  falseAlarms: number;
  errorsMs: number[];
  seconds: number[];
  troubles: string[];
};

function judgeTake(take: CheckTake, form: Form, seed: number, sums: Sums, log: (line: string) => void): void {
  const { study, listening, performance } = take;
  const right = inForm(form, study, { ...toSheet(study), chords: [] });
  const started = globalThis.performance.now();
  const report = checkSheet(right, listening);
  sums.seconds.push((globalThis.performance.now() - started) / 1000);
  sums.written += study.notes.length;
  sums.falseAlarms += report.differences.length;
  const { events } = alignSheet(right, listening);
  // Plain tab knows no pick-up: its first bar is one, and all later ones count one more.
  const later = form === "plain tab" && study.pickupBeats > 0 ? 1 : 0;
  for (const event of events)
    event.noteIdxs.forEach((noteIdx, i) => {
      const note = right.notes[noteIdx];
      const sec = event.noteSec[i];
      const near = take.notes
        .filter(
          (n) => n.bar === (note?.bar ?? 0) - later && n.string === note?.string && n.fret === note?.fret,
        )
        .map((n) => Math.abs(n.onsetSec - (sec ?? 1e9)));
      if (note && near.length > 0) sums.errorsMs.push(1000 * Math.min(...near));
    });
  const trial = makeTrial(study, seed);
  const spoiled = inForm(form, trial.spoiled, trial.sheet);
  const { falseOnes, missedOnes } = scoreTrial(
    checkSheet(spoiled, listening),
    trial,
    performance,
    sums.tallies,
  );
  if (falseOnes.length + missedOnes.length > 0)
    log(
      `${study.name} ${take.condition} ${take.bank} ${form}: ${falseOnes.length} false, ${missedOnes.length} missed; ${JSON.stringify([...falseOnes.slice(0, 3), ...missedOnes.slice(0, 3)])}`,
    );
}

const bench: BenchCase = {
  name: "check",
  run: async ({ quick, flags, log }) => {
    const { hear, close, what } = await openEar(flags.includes("--simulated"));
    const verbose = flags.includes("--verbose") ? log : (): void => undefined;
    const flagText = (flag: string): string | undefined =>
      flags.find((f) => f.startsWith(`--${flag}=`))?.slice(flag.length + 3);
    const forms = FORMS.filter((f) => f.startsWith(flagText("form") ?? ""));
    const [from, to] = [flagText("from"), flagText("to")];
    const all =
      from === undefined
        ? namedStudies()
        : Array.from({ length: Number(to ?? from) - Number(from) + 1 }, (_, k) =>
            studyBySeed(Number(from) + k),
          );
    const studies = all.filter((_, k) => !quick || k % 4 === 0);
    const rows: Cell[][] = [];
    const notes = [what, `${studies.length} studies, one take each in both conditions`];
    for (const condition of ["clean", "hard"] as const) {
      const sums = new Map<Form, Sums>(
        forms.map((f) => [
          f,
          { tallies: new Map(), written: 0, falseAlarms: 0, errorsMs: [], seconds: [], troubles: [] },
        ]),
      );
      for (const [idx, study] of studies.entries()) {
        const take = await hear(study, condition, idx, SEED + idx);
        for (const form of forms) {
          const own = sums.get(form) as Sums;
          try {
            judgeTake(take, form, SEED + idx, own, verbose);
          } catch (e) {
            own.troubles.push(`${study.name} ${condition} ${form}: ${(e as Error).message}`);
          }
        }
        log(`${study.name} ${condition} (${take.bank})`);
      }
      for (const [form, s] of sums) {
        const errors = Float64Array.from(s.errorsMs).sort();
        const total = totalOf(s.tallies);
        const alarms = (100 * s.falseAlarms) / Math.max(1, s.written);
        const line = (kind: string, t: Tally): Cell[] => [
          condition,
          form,
          kind,
          t.planted,
          t.found / Math.max(1, t.planted),
          t.kindRight / Math.max(1, t.planted),
          f1Of(t),
        ];
        for (const kind of [...s.tallies.keys()].filter((k) => k !== "false").sort())
          rows.push(line(kind, s.tallies.get(kind) as Tally));
        rows.push([...line("all (with false ones)", total)]);
        notes.push(
          `${condition} ${form}: F1 ${f1Of(total).toFixed(3)}; false alarms on right sheets ${alarms.toFixed(2)} per 100 notes; alignment median ${(errors[errors.length >> 1] ?? 0).toFixed(1)} ms, within 50 ms ${(errors.filter((e) => e <= 50).length / Math.max(1, errors.length)).toFixed(4)}; check ${mean(s.seconds).toFixed(2)} s a take`,
          ...s.troubles,
        );
      }
    }
    await close();
    return {
      title: "Check: planted errors found, by kind",
      columns: ["condition", "sheet", "kind", "planted", "found", "as that kind", "F1"],
      rows,
      notes,
    };
  },
};
export default bench;
