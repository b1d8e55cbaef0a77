import { gripOf, gripRows } from "./grips.js";
import { makeRng, type Rng } from "./rng.js";
import type { Study, StudyNote } from "./study.js";

export type PlantedKind = "wrong-fret" | "missing" | "added" | "shape" | "bars-swapped" | "bar-left-out";
export const PLANTED_KINDS: readonly PlantedKind[] = [
  "wrong-fret",
  "missing",
  "added",
  "shape",
  "bars-swapped",
  "bar-left-out",
];

/** One error planted in the written music. `bars` are numbers of the spoiled sheet.
 * @property differences what a perfect check of the sheet against the take would report, note by note */
export type Planted = { kind: PlantedKind; bars: number[]; differences: PlantedDifference[] };

/** "missing": written and not played; "extra": played and not written; "wrong-pitch": another pitch was played there.
 * bar and tick are places in the spoiled sheet. */
export type PlantedDifference =
  | { kind: "missing"; bar: number; tick: number; string: number; writtenMidi: number }
  | { kind: "extra"; bar: number; tick: number; string: number; playedMidi: number }
  | {
      kind: "wrong-pitch";
      bar: number;
      tick: number;
      string: number;
      writtenMidi: number;
      playedMidi: number;
    };

const barNotes = (notes: readonly StudyNote[], bar: number): StudyNote[] =>
  notes.filter((n) => n.bar === bar);

/** What tells the written notes of one bar from the played ones. The same pitch at the same place is no difference,
 * whatever its string; what is left on the same string is a wrong pitch; the rest is missing or extra. */
export function differencesOfBar(
  written: readonly StudyNote[],
  played: readonly StudyNote[],
  bar: number,
): PlantedDifference[] {
  const found: PlantedDifference[] = [];
  const left = [...played];
  const take = (test: (n: StudyNote) => boolean): StudyNote | undefined => {
    const at = left.findIndex(test);
    return at < 0 ? undefined : left.splice(at, 1)[0];
  };
  const unmatched = written.filter((w) => take((n) => n.tick === w.tick && n.midi === w.midi) === undefined);
  for (const w of unmatched) {
    const other = take((n) => n.tick === w.tick && n.string === w.string);
    const at = { bar, tick: w.tick, string: w.string };
    if (other === undefined) found.push({ kind: "missing", ...at, writtenMidi: w.midi });
    else found.push({ kind: "wrong-pitch", ...at, writtenMidi: w.midi, playedMidi: other.midi });
  }
  for (const n of left)
    found.push({ kind: "extra", bar, tick: n.tick, string: n.string, playedMidi: n.midi });
  return found;
}

/** Spoils one note of a bar; undefined when the bar has no fitting note. */
function spoilNote(
  kind: "wrong-fret" | "missing" | "added",
  study: Study,
  notes: StudyNote[],
  bar: number,
  rng: Rng,
): StudyNote[] | undefined {
  const here = barNotes(notes, bar);
  if (here.length < 3) return undefined;
  const target = rng.pick(here);
  if (kind === "missing") return notes.filter((n) => n !== target); // missing from the sheet: played, not written
  const open = (string: number): number => (study.openMidi[6 - string] as number) + study.capo;
  if (kind === "wrong-fret") {
    const by = rng.pick([-4, -3, -2, -1, 1, 2, 3, 4].filter((d) => target.fret + d >= 0));
    const fret = target.fret + by;
    const spoiled = { ...target, fret, midi: open(target.string) + fret };
    if (here.some((n) => n !== target && n.tick === target.tick && n.midi === spoiled.midi)) return undefined;
    return notes.map((n) => (n === target ? spoiled : n));
  }
  const string = rng.pick([1, 2, 3, 4, 5, 6]);
  if (here.some((n) => n.tick === target.tick && n.string === string)) return undefined;
  const fret = rng.int(4);
  const midi = open(string) + fret;
  if (here.some((n) => n.tick === target.tick && (n.midi - midi) % 12 === 0)) return undefined; // an octave cannot be heard out
  const finger = string >= 4 ? "p" : string === 3 ? "i" : string === 2 ? "m" : "a";
  return [
    ...notes,
    {
      ...target,
      string,
      fret,
      midi,
      finger,
      leftFinger: (fret === 0 ? 0 : Math.min(4, fret)) as StudyNote["leftFinger"],
    },
  ];
}

/** The bar's notes moved to another grip: same fingers and strings, frets of the other shape. */
function swapShape(
  study: Study,
  notes: readonly StudyNote[],
  bar: number,
  rng: Rng,
): StudyNote[] | undefined {
  const own = study.chords.filter((c) => c.bar === bar);
  if (own.length !== 1) return undefined;
  const symbols = gripRows(study.tuning)
    .map((r) => r.symbol)
    .filter((s) => s !== own[0]?.shape);
  const grip = gripOf(rng.pick(symbols), study.tuning);
  const here = barNotes(notes, bar);
  if (!here.every((n) => grip.strings.some((s) => s.string === n.string))) return undefined;
  const moved = here.map((n) => {
    const s = grip.strings.find((g) => g.string === n.string);
    if (s === undefined) throw new Error("string vanished");
    const midi = (study.openMidi[6 - s.string] as number) + study.capo + s.fret;
    return { ...n, fret: s.fret, leftFinger: s.leftFinger, midi };
  });
  if (differencesOfBar(moved, here, bar).length < 2) return undefined;
  return [...notes.filter((n) => n.bar !== bar), ...moved];
}

const inOrder = (notes: readonly StudyNote[]): StudyNote[] =>
  [...notes].sort((a, b) => a.bar - b.bar || a.tick - b.tick || b.string - a.string);

/** A study whose written music is wrong in known places, to be checked against a take of the right one.
 * Errors stand in different bars. "bar-left-out" comes alone, or last, and at most once: it moves the bars after it.
 * @param kinds one error of each, in this order; kinds repeat freely
 * @returns the spoiled study (its toSheet is the sheet to check) and what was planted
 * @throws Error when the study has too few bars for so many errors */
export function plantErrors(
  study: Study,
  options: { seed: number; kinds: readonly PlantedKind[] },
): { study: Study; planted: Planted[] } {
  const rng = makeRng(`plant ${study.name} ${options.seed}`);
  let notes = [...study.notes];
  const planted: Planted[] = [];
  const taken = new Set<number>();
  const freeBar = (): number => {
    const free = Array.from({ length: study.barCount }, (_, k) => k + 1).filter((b) => !taken.has(b));
    return rng.pick(free);
  };
  for (const kind of options.kinds) {
    if (kind === "bar-left-out") continue;
    let done = false;
    for (let tries = 0; tries < 200 && !done; tries++) {
      const bar = freeBar();
      if (kind === "bars-swapped") {
        const other = freeBar();
        const a = barNotes(study.notes, bar);
        const b = barNotes(study.notes, other);
        const differences = [...differencesOfBar(b, a, bar), ...differencesOfBar(a, b, other)];
        if (bar === other || differences.length < 4) continue;
        notes = notes.map((n) =>
          n.bar === bar ? { ...n, bar: other } : n.bar === other ? { ...n, bar } : n,
        );
        planted.push({ kind, bars: [bar, other].sort((x, y) => x - y), differences });
        taken.add(bar).add(other);
        done = true;
        continue;
      }
      const spoiled =
        kind === "shape" ? swapShape(study, notes, bar, rng) : spoilNote(kind, study, notes, bar, rng);
      if (spoiled === undefined) continue;
      const differences = differencesOfBar(barNotes(spoiled, bar), barNotes(study.notes, bar), bar);
      if (differences.length === 0) continue;
      notes = spoiled;
      planted.push({ kind, bars: [bar], differences });
      taken.add(bar);
      done = true;
    }
    if (!done) throw new Error(`${study.name}: no bar left for ${kind}`);
  }
  let spoiledStudy: Study = { ...study, notes: inOrder(notes) };
  if (options.kinds.includes("bar-left-out")) {
    const bar = 2 + rng.int(study.barCount - 2);
    spoiledStudy = leaveOut(spoiledStudy, bar);
    for (const p of planted) moveBars(p, bar);
    planted.push({ kind: "bar-left-out", bars: [bar], differences: [] });
  }
  return { study: spoiledStudy, planted: planted.filter((p) => p.bars.length > 0) };
}

function moveBars(p: Planted, leftOut: number): void {
  const move = (b: number): number => (b > leftOut ? b - 1 : b);
  p.differences = p.differences.filter((d) => d.bar !== leftOut).map((d) => ({ ...d, bar: move(d.bar) }));
  p.bars = p.bars.filter((b) => b !== leftOut).map(move);
}

/** The study without one bar: the bar's notes and chords go, later ones move up. */
function leaveOut(study: Study, bar: number): Study {
  const up = <T extends { bar: number }>(list: readonly T[]): T[] =>
    list.filter((x) => x.bar !== bar).map((x) => (x.bar > bar ? { ...x, bar: x.bar - 1 } : x));
  const without = (bars: readonly number[]): number[] =>
    bars.filter((b) => b !== bar).map((b) => (b > bar ? b - 1 : b));
  return {
    ...study,
    barCount: study.barCount - 1,
    notes: up(study.notes),
    chords: up(study.chords),
    patternBars: without(study.patternBars),
    form: study.form.map((f) => ({ ...f, bars: without(f.bars) })),
    groupOfBar: study.groupOfBar.filter((_, k) => k !== bar - 1),
    kinOfBar: study.kinOfBar.filter((_, k) => k !== bar - 1),
  };
}
