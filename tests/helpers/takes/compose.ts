// Composes studies of our own: a picking pattern carried through chord shapes, with everything that is true of
// them. In: a StudySpec (or a seed). Out: a Study. Method: every bar of a section is made once and comes back in
// every repeat of the section; melodies keep to notes that the chords bring, so that a degree left out on purpose
// stays out. Cannot do: slurs, harmonics, tempo changes (perform.ts bends the time).
import {
  type BarNote,
  type BarPlan,
  fingerOfRole,
  lastBar,
  patternBar,
  patternHits,
  wanderingHits,
  withBassRun,
  withBlockEnding,
} from "./compose-bar.js";
import { type Grip, gripOf, OPEN_MIDI, pitchClassOf, transposeSymbol } from "./grips.js";
import { MODE_STEPS, undecidedPairs, usesFlats } from "./modes.js";
import { PATTERNS, type PatternRow } from "./pattern-table.js";
import { makeRng } from "./rng.js";
import type { Study, StudyChord, StudyNote, StudySpec } from "./study.js";

/** In studies where no bar comes back, no two bars share more than this part, whatever their chords. */
const THROUGH_SHARE = 0.6;

function patternNamed(name: string): PatternRow {
  const row = PATTERNS.find((p) => p.name === name);
  if (row === undefined) throw new Error(`no pattern ${name}`);
  return row;
}

const barsOf = (text: string): string[][] => text.split("|").map((bar) => bar.trim().split(/\s+/));

const noteKey = (n: BarNote): string => `${n.tick}:${n.string}:${n.fret}`;

/** Notes in common over notes in either, 0…1. */
function sharedPart(a: readonly BarNote[], b: readonly BarNote[]): number {
  const keys = new Set(a.map(noteKey));
  const both = b.filter((n) => keys.has(noteKey(n))).length;
  return both / (a.length + b.length - both);
}

/** Numbers bars by the first that each is the same as. */
function groupBars(count: number, same: (a: number, b: number) => boolean): number[] {
  const first: number[] = [];
  return Array.from({ length: count }, (_, idx) => {
    const group = first.findIndex((k) => same(k, idx));
    if (group >= 0) return group;
    first.push(idx);
    return first.length - 1;
  });
}

/** The same notes but for a slip (one note otherwise, of six or more) or a varied ending (all notes the same up to the middle
 * of the bar, the second beat of three, over the same chords). Over other chords only the very same notes are the same music. */
function sameMusic(
  a: readonly BarNote[],
  b: readonly BarNote[],
  beats: number,
  sameChords: boolean,
): boolean {
  const differing = (x: readonly BarNote[], y: readonly BarNote[], untilTick: number): number => {
    const keys = new Set(y.map((n) => `${n.tick}:${n.midi}`));
    return x.filter((n) => n.tick < untilTick && !keys.has(`${n.tick}:${n.midi}`)).length;
  };
  const apart = (untilTick: number): number =>
    Math.max(differing(a, b, untilTick), differing(b, a, untilTick));
  if (apart(Number.POSITIVE_INFINITY) === 0) return true;
  if (!sameChords) return false;
  if (apart(Number.POSITIVE_INFINITY) === 1 && Math.max(a.length, b.length) >= 6) return true;
  const middle = beats % 2 === 0 ? beats * 12 : (beats - 1) * 24;
  return a.filter((n) => n.tick < middle).length >= 2 && apart(middle) === 0;
}

/** Written length: to the next note of the string or the end of the bar. */
function withLengths(bars: readonly BarNote[][], barTicks: number): StudyNote[] {
  return bars.flatMap((bar, barIdx) =>
    [...bar]
      .sort((a, b) => a.tick - b.tick || b.string - a.string)
      .map((note) => {
        const next = bar.filter((n) => n.string === note.string && n.tick > note.tick).map((n) => n.tick);
        return { ...note, bar: barIdx + 1, lengthTicks: Math.min(barTicks, ...next) - note.tick };
      }),
  );
}

/** The shortest row that the study repeats: a bar whose second half is the first again is a half-bar pattern. */
function shortestRow(row: PatternRow): { beats: number; steps: string } {
  const steps = row.steps.split(/\s+/);
  const first = steps.slice(0, steps.length / 2).join(" ");
  const twice =
    row.halfBar !== true && row.beats % 2 === 0 && first === steps.slice(steps.length / 2).join(" ");
  return twice ? { beats: row.beats / 2, steps: first } : { beats: row.beats, steps: row.steps };
}

/** Fingers and ticks that a bar would have if it followed the pattern; melody letters count as their finger. */
function followsPattern(bar: readonly BarNote[], hits: readonly { tick: number; roles: string }[]): boolean {
  const want = new Set(hits.flatMap((h) => [...h.roles].map((r) => `${h.tick}:${fingerOfRole(r)}`)));
  const have = new Set(bar.map((n) => `${n.tick}:${n.finger}`));
  return want.size === have.size && [...want].every((key) => have.has(key));
}

/** Composes a study.
 * @throws Error when a chord has no grip, or a chord leaves the mode */
export function composeStudy(spec: StudySpec): Study {
  const row = patternNamed(spec.pattern);
  const beats = row.halfBar === true ? row.beats * 2 : row.beats;
  const meter = { beats, unit: row.unit };
  const barTicks = beats * 24;
  const openMidi = OPEN_MIDI[spec.tuning];
  const sounding = openMidi.map((midi) => midi + spec.capo);
  const seed = spec.seed ?? 1;

  const plans = [...spec.form].flatMap((label) => {
    const text = spec.sections[label];
    if (text === undefined) throw new Error(`${spec.name}: no section ${label}`);
    return barsOf(text).map((symbols, idx, all) => ({
      label,
      idx,
      symbols,
      lastOfSection: idx === all.length - 1,
    }));
  });
  const grips = new Map<string, Grip>();
  for (const { symbols } of plans) for (const s of symbols) grips.set(s, gripOf(s, spec.tuning));
  const chordPcs = new Set(
    [...grips.values()].flatMap((g) =>
      g.strings.map((s) => ((sounding[6 - s.string] as number) + s.fret) % 12),
    ),
  );

  const hits = patternHits(row, beats);
  const bars: BarNote[][] = [];
  const chords: StudyChord[] = [];
  const newTonicFlats = usesFlats(transposeSymbol(spec.tonic, spec.capo, true), spec.mode);
  const tonic = transposeSymbol(spec.tonic, spec.capo, newTonicFlats);
  plans.forEach(({ label, idx, symbols, lastOfSection }, barIdx) => {
    const gripAt = (tick: number): Grip => {
      const part = Math.min(symbols.length - 1, Math.floor((tick * symbols.length) / barTicks));
      return grips.get(symbols[part] as string) as Grip;
    };
    const plan: BarPlan = { beats, gripAt, openMidi: sounding, melodyPcs: chordPcs };
    const rng = makeRng(`${spec.name} ${seed} ${label}${idx}`);
    let notes = patternBar(plan, hits, rng);
    if (spec.through === true) {
      const wander = makeRng(`${spec.name} ${seed} bar ${barIdx}`);
      for (let tries = 0; tries < 60; tries++) {
        notes = patternBar(plan, wanderingHits(hits, wander), wander);
        if (bars.every((bar) => sharedPart(bar, notes) < THROUGH_SHARE)) break;
      }
    }
    const sectionEnds = lastOfSection && spec.form.charAt(sectionOf(plans, barIdx) + 1) !== label;
    if (barIdx === plans.length - 1 && (spec.last ?? "rolled") !== "pattern") {
      notes = lastBar(plan, spec.last === "strum" ? "strum" : "rolled", rng);
    } else if (sectionEnds && spec.ending === "block") notes = withBlockEnding(plan, notes, rng);
    else if (sectionEnds && spec.ending === "bass-run") notes = withBassRun(plan, notes, rng);
    bars.push(notes);
    symbols.forEach((shape, part) => {
      const symbol = transposeSymbol(shape, spec.capo, newTonicFlats);
      const grip = grips.get(shape) as Grip;
      chords.push({
        bar: barIdx + 1,
        beat: 1 + (part * beats) / symbols.length,
        beats: beats / symbols.length,
        symbol,
        root: transposeSymbol(grip.root, spec.capo, newTonicFlats),
        bass: transposeSymbol(grip.bass, spec.capo, newTonicFlats),
        shape,
      });
    });
  });

  const pickupBeats = spec.pickupBeats ?? 0;
  const notes = [...pickupNotes(spec, hits, barTicks, grips, sounding), ...withLengths(bars, barTicks)];
  const sounded = new Set(notes.map((n) => n.midi % 12));
  const allowed = new Set(MODE_STEPS[spec.mode].map((step) => (pitchClassOf(tonic) + step) % 12));
  for (const pc of sounded)
    if (!allowed.has(pc)) throw new Error(`${spec.name}: pitch class ${pc} is outside ${spec.mode}`);
  const chordsOfBar = plans.map((p) => p.symbols.join(" "));
  const barAt = (idx: number): BarNote[] => bars[idx] as BarNote[];
  const form = [...spec.form].map((label, sectionIdx) => ({
    label,
    bars: plans.flatMap((_, k) => (sectionOf(plans, k) === sectionIdx ? [k + 1] : [])),
  }));
  return {
    name: spec.name,
    title: spec.title,
    tuning: spec.tuning,
    openMidi,
    capo: spec.capo,
    meter,
    tempoBpm: spec.tempoBpm,
    feel: spec.feel ?? "straight",
    swingRatio: spec.feel === "swing" ? (spec.swingRatio ?? 2) : 1,
    pickupBeats,
    barCount: bars.length,
    notes,
    chords,
    mode: { tonic, mode: spec.mode, undecided: undecidedPairs(tonic, spec.mode, sounded) },
    pattern: { name: row.name, ...shortestRow(row), stepTicks: row.stepTicks },
    patternBars: bars.flatMap((bar, k) => (followsPattern(bar, hits) ? [k + 1] : [])),
    form,
    groupOfBar: groupBars(
      bars.length,
      (a, b) => chordsOfBar[a] === chordsOfBar[b] && sharedPart(barAt(a), barAt(b)) >= 1,
    ),
    kinOfBar: groupBars(bars.length, (a, b) =>
      sameMusic(barAt(a), barAt(b), beats, chordsOfBar[a] === chordsOfBar[b]),
    ),
  };
}

/** The upper voices of the pattern's last beats, over the first chord, before bar 1. */
function pickupNotes(
  spec: StudySpec,
  hits: readonly { tick: number; roles: string }[],
  barTicks: number,
  grips: ReadonlyMap<string, Grip>,
  openMidi: readonly number[],
): StudyNote[] {
  const lengthTicks = (spec.pickupBeats ?? 0) * 24;
  const grip = [...grips.values()][0] as Grip; // grips were collected in playing order
  const plan: BarPlan = { beats: spec.pickupBeats ?? 0, gripAt: () => grip, openMidi, melodyPcs: new Set() };
  const upper = hits
    .filter((h) => h.tick >= barTicks - lengthTicks)
    .map((h) => ({ tick: h.tick - barTicks + lengthTicks, roles: h.roles.replace(/[pP]/g, "") || "i" }));
  if (lengthTicks === 0) return [];
  const notes = withLengths([patternBar(plan, upper, makeRng(spec.name))], lengthTicks);
  return notes.map((n) => ({ ...n, bar: 0 }));
}

/** Which section of the form (from 0) a bar (from 0) stands in. */
function sectionOf(plans: readonly { idx: number }[], barIdx: number): number {
  return plans.slice(0, barIdx + 1).filter((p) => p.idx === 0).length - 1;
}
