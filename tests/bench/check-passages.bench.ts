// What happens in a take besides the notes, on rendered takes of guitars that no training saw: is it said, with the right bars, and is
// nothing else said and no note accused for it. `--from=900 --to=905` takes studies by seed instead of named ones, `--way=pause` one
// thing that happens; `--simulated` does without listener and sound.
import { PulgarError } from "../../src/base/errors.js";
import { checkSheet } from "../../src/check/compare.js";
import type { CheckReport } from "../../src/check/report.js";
import type { Sheet } from "../../src/sheet/sheet.js";
import type { PerformOptions } from "../helpers/takes/perform.js";
import { inOrder, repeating, skipping } from "../helpers/takes/rearrange.js";
import { namedStudies, studyBySeed } from "../helpers/takes/studies.js";
import type { Study } from "../helpers/takes/study.js";
import { toSheet } from "../helpers/takes/to-sheet.js";
import type { BenchCase, Cell } from "./bench-case.js";
import { openEar } from "./check-takes.js";

const SEED = 5000;

/** Findings about the course of a recording; all others speak of the sheet. */
const COURSE = new Set([
  "false-start",
  "before-the-start",
  "begun-again",
  "section-repeated",
  "unwritten-bar",
  "unwritten-music",
  "left-out",
  "ends-early",
  "bars-swapped",
  "pause",
  "other-pitch",
  "string-retuned",
]);

/** @property rule what must be said; undefined: nothing @property bars how many bars the finding must name
 * @property ownBars written bars that are rightly missing */
type Way = {
  name: string;
  rule?: string;
  bars?: number;
  played: (study: Study) => Study | undefined;
  options?: PerformOptions;
};

const raised = (study: Study, by: number, string?: number): Study => ({
  ...study,
  notes: study.notes.map((n) =>
    string === undefined || n.string === string ? { ...n, midi: n.midi + by } : n,
  ),
});
/** First of `count` bars in a row that differ from what follows them: taken out or played twice, they can be told. */
function toldFrom(study: Study, count: number): number | undefined {
  const group = (bar: number): number | undefined => study.groupOfBar[bar - 1];
  const bars = Array.from({ length: count }, (_, k) => k);
  for (let from = 2; from + count + 2 <= study.barCount; from++)
    if (bars.every((k) => group(from + k) !== group(from + count + k))) return from;
  return undefined;
}

const WAYS: readonly Way[] = [
  { name: "straight through", played: (s) => s },
  { name: "seven seconds before", played: (s) => s, options: { leadSec: 7 } },
  { name: "counted in", played: (s) => s, options: { countIn: "clicks" } },
  { name: "false start", rule: "false-start", played: (s) => s, options: { falseStartBeats: 5 } },
  { name: "pause", rule: "pause", played: (s) => s, options: { pauses: [{ beforeBar: 5, sec: 3 }] } },
  {
    name: "three bars left out",
    rule: "left-out",
    bars: 3,
    played: (s) => {
      const from = toldFrom(s, 3);
      return from === undefined ? undefined : inOrder(s, skipping(s, from, from + 2));
    },
  },
  {
    name: "four bars played twice",
    rule: "section-repeated",
    bars: 4,
    played: (s) => {
      const from = toldFrom(s, 4);
      return from === undefined ? undefined : inOrder(s, repeating(s, from, from + 3));
    },
  },
  {
    name: "ends two bars early",
    rule: "ends-early",
    bars: 2,
    played: (s) => inOrder(s, skipping(s, s.barCount - 1, s.barCount)),
  },
  { name: "capo not mentioned", rule: "other-pitch", played: (s) => raised(s, 3) },
  { name: "tuned down a tone", rule: "other-pitch", played: (s) => raised(s, -2) },
  {
    name: "one string down a tone",
    rule: "string-retuned",
    played: (s) => (s.notes.filter((n) => n.string === 5).length >= 6 ? raised(s, -2, 5) : undefined),
  },
];

/** Bars that a finding's words name: "Bars 3–5", "Bar 3". */
function barsNamed(message: string): number {
  const found = /Bars? (\d+)(?:–(\d+))?/.exec(message);
  return found ? Number(found[2] ?? found[1]) - Number(found[1]) + 1 : 0;
}

type Tally = {
  takes: number;
  said: number;
  rightBars: number;
  besides: number;
  written: number;
  accused: number;
};

function judge(way: Way, sheet: Sheet, report: CheckReport, tally: Tally): string[] {
  const course = report.findings.filter((f) => COURSE.has(f.rule));
  const own = course.filter((f) => f.rule === way.rule);
  const besides = course.filter((f) => f.rule !== way.rule);
  const gone = way.rule === "left-out" || way.rule === "ends-early";
  const accused = report.differences.filter((d) => !gone || d.kind !== "missing" || d.onsetSec !== undefined);
  tally.takes++;
  tally.written += sheet.notes.length;
  tally.accused += accused.length;
  tally.besides += besides.length;
  if (way.rule === undefined || own.length > 0) tally.said++;
  if (way.bars === undefined || own.reduce((n, f) => n + barsNamed(f.message), 0) === way.bars)
    tally.rightBars++;
  const wrong = (way.rule !== undefined && own.length === 0) || besides.length > 0 || accused.length > 2;
  return wrong ? [...course.map((f) => `${f.rule}: ${f.message}`), `${accused.length} differences`] : [];
}

const bench: BenchCase = {
  name: "check-passages",
  run: async ({ quick, flags, log }) => {
    const { hear, close, what } = await openEar(flags.includes("--simulated"));
    const flagText = (flag: string): string | undefined =>
      flags.find((f) => f.startsWith(`--${flag}=`))?.slice(flag.length + 3);
    const [from, to] = [flagText("from"), flagText("to")];
    const all =
      from === undefined
        ? namedStudies().filter((s, k) => k % 3 === 0 && s.barCount >= 8)
        : Array.from({ length: Number(to ?? from) - Number(from) + 1 }, (_, k) =>
            studyBySeed(Number(from) + k),
          );
    const studies = all.filter((_, k) => !quick || k === 0);
    const ways = WAYS.filter((way) => way.name.startsWith(flagText("way") ?? ""));
    const rows: Cell[][] = [];
    const notes = [what];
    for (const condition of ["clean", "hard"] as const) {
      for (const way of ways) {
        const tally: Tally = { takes: 0, said: 0, rightBars: 0, besides: 0, written: 0, accused: 0 };
        for (const [idx, study] of studies.entries()) {
          const played = way.played(study);
          if (!played) continue;
          const name = way.name.replaceAll(" ", "-");
          const take = await hear(played, condition, idx, SEED + idx, { name, options: way.options ?? {} });
          const sheet = { ...toSheet(study), chords: [] };
          try {
            const wrong = judge(way, sheet, checkSheet(sheet, take.listening), tally);
            if (wrong.length > 0) notes.push(`${condition} ${way.name}, ${study.name}: ${wrong.join("; ")}`);
          } catch (e) {
            if (!(e instanceof PulgarError)) throw e;
            tally.takes++;
            notes.push(`${condition} ${way.name}, ${study.name}: refused, ${e.message}`);
          }
        }
        log(`${condition} ${way.name}`);
        const { takes, said, rightBars, besides, written, accused } = tally;
        rows.push([
          condition,
          way.name,
          takes,
          said,
          rightBars,
          besides,
          (100 * accused) / Math.max(1, written),
        ]);
      }
      let [asked, refused] = [0, 0];
      for (const [idx, study] of studies.entries()) {
        const take = await hear(study, condition, idx, SEED + idx, { name: "straight-through", options: {} });
        for (const other of studies) {
          if (other.name === study.name) continue;
          asked++;
          try {
            checkSheet({ ...toSheet(other), chords: [] }, take.listening);
            notes.push(`${condition}: ${study.name} was taken for ${other.name}`);
          } catch (e) {
            if (!(e instanceof PulgarError) || e.code !== "other-music") throw e;
            refused++;
          }
        }
      }
      rows.push([condition, "another piece", asked, refused, refused, 0, 0]);
    }
    await close();
    return {
      title: "Check: what happens in a take besides the notes",
      columns: ["condition", "way", "takes", "said", "right bars", "said besides", "accused per 100"],
      rows,
      notes,
    };
  },
};
export default bench;
