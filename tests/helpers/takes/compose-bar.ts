import type { PickFinger } from "../../../src/hands/fretted.js";
import type { Grip, GripString } from "./grips.js";
import type { PatternRow } from "./pattern-table.js";
import type { Rng } from "./rng.js";
import type { StudyNote } from "./study.js";

/** A note of a bar in the making: no bar number, no written length yet. */
export type BarNote = Omit<StudyNote, "bar" | "lengthTicks">;

/** What a bar is made from: the grip at each tick, open strings (capo included), pitch classes that a melody may use. */
export type BarPlan = {
  beats: number;
  gripAt: (tick: number) => Grip;
  openMidi: readonly number[];
  melodyPcs: ReadonlySet<number>;
};

type Hit = { tick: number; roles: string };

/** The hits of a pattern row over a bar; a half-bar row comes as often as it fits. */
export function patternHits(row: PatternRow, beats: number): Hit[] {
  const steps = row.steps.split(/\s+/);
  const hits: Hit[] = [];
  for (let start = 0; start < beats * 24; start += row.beats * 24) {
    steps.forEach((roles, idx) => {
      if (roles !== ".") hits.push({ tick: start + idx * row.stepTicks, roles });
    });
  }
  return hits;
}

/** The finger of a role letter. */
export const fingerOfRole = (role: string): PickFinger =>
  role === "p" || role === "P" ? "p" : role === "i" ? "i" : role === "m" || role === "M" ? "m" : "a";

const HOME_STRING: Record<string, number> = { i: 3, m: 2, a: 1, M: 2, A: 1 };

/** The string that a role plucks on a grip: fingers move one string down when the first string is not held. */
function stringOfRole(role: string, grip: Grip): number {
  if (role === "p") return grip.bassString;
  if (role === "P") return grip.otherBass;
  const shift = grip.strings.some((s) => s.string === 1) ? 0 : 1;
  return (HOME_STRING[role] as number) + shift;
}

const midiAt = (plan: BarPlan, string: number, fret: number): number =>
  (plan.openMidi[6 - string] as number) + fret;

const isBarre = (grip: Grip): boolean => grip.strings.filter((s) => s.leftFinger === 1).length > 1;

/** Where a melody note may lie on a string while the grip is held: its own fret, the open string, or up to three frets
 * higher under a free finger, within four frets of the lowest stopped one. */
function melodyPlaces(plan: BarPlan, grip: Grip, string: number): GripString[] {
  const own = grip.strings.find((s) => s.string === string);
  if (own === undefined) return [];
  const places = [own];
  const used = new Set(grip.strings.filter((s) => s !== own).map((s) => s.leftFinger));
  const stopped = grip.strings.filter((s) => s.fret > 0).map((s) => s.fret);
  const lowest = stopped.length === 0 ? 1 : Math.min(...stopped);
  const highest = stopped.length === 0 ? 3 : Math.max(...stopped);
  if (own.fret > 0 && !isBarre(grip)) places.push({ string, fret: 0, leftFinger: 0 });
  for (let fret = own.fret + 1; fret <= own.fret + 3; fret++) {
    if (fret > lowest + 3 || fret < highest) continue;
    const finger = !used.has(4) ? 4 : !used.has(3) && fret <= lowest + 2 ? 3 : undefined;
    if (finger !== undefined) places.push({ string, fret, leftFinger: finger });
  }
  return places.filter((p) => p === own || plan.melodyPcs.has(midiAt(plan, string, p.fret) % 12));
}

/** The notes of one hit, lowest string first, never two on a string. */
function notesOfHit(plan: BarPlan, hit: Hit, rng: Rng): BarNote[] {
  const grip = plan.gripAt(hit.tick);
  const notes = new Map<number, BarNote>();
  for (const role of hit.roles) {
    const string = stringOfRole(role, grip);
    if (notes.has(string)) continue;
    const places =
      role === "A" || role === "M"
        ? melodyPlaces(plan, grip, string)
        : grip.strings.filter((s) => s.string === string);
    if (places.length === 0) continue;
    const place = rng.pick(places);
    const { fret, leftFinger } = place;
    notes.set(string, {
      tick: hit.tick,
      string,
      fret,
      leftFinger,
      midi: midiAt(plan, string, fret),
      finger: fingerOfRole(role),
    });
  }
  return [...notes.values()].sort((a, b) => b.string - a.string);
}

/** A bar that follows its pattern. */
export const patternBar = (plan: BarPlan, hits: readonly Hit[], rng: Rng): BarNote[] =>
  hits.flatMap((hit) => notesOfHit(plan, hit, rng));

/** Fingers wander over the same rhythm: for studies in which no bar comes back. */
export function wanderingHits(hits: readonly Hit[], rng: Rng): Hit[] {
  return hits.map(({ tick, roles }) => {
    const thumb = /[pP]/.test(roles) ? rng.pick(["p", "P", "p"]) : "";
    const count = [...roles].filter((r) => !/[pP]/.test(r)).length;
    const upper = rng.pick(
      count >= 2 ? ["im", "ma", "ia", "ima"] : count === 1 ? ["i", "m", "a"] : ["", "", "a"],
    );
    return { tick, roles: thumb + upper };
  });
}

/** The second half of the bar gives way to one plucked chord. */
export function withBlockEnding(plan: BarPlan, notes: readonly BarNote[], rng: Rng): BarNote[] {
  const half = plan.beats % 2 === 0 ? plan.beats * 12 : (plan.beats - 1) * 24;
  return [...notes.filter((n) => n.tick < half), ...notesOfHit(plan, { tick: half, roles: "pima" }, rng)];
}

/** The last beat gives way to a short walk of the thumb on the chord's bass strings. */
export function withBassRun(plan: BarPlan, notes: readonly BarNote[], rng: Rng): BarNote[] {
  const lastBeat = (plan.beats - 1) * 24;
  const grip = plan.gripAt(lastBeat);
  const places: GripString[] = [];
  for (const string of [6, 5, 4])
    for (let fret = 0; fret <= 4; fret++)
      if (plan.melodyPcs.has(midiAt(plan, string, fret) % 12))
        places.push({ string, fret, leftFinger: fret as GripString["leftFinger"] });
  const bass = grip.strings.find((s) => s.string === grip.bassString) as GripString;
  const bassMidi = midiAt(plan, bass.string, bass.fret);
  const near = places.filter((p) => {
    const away = Math.abs(midiAt(plan, p.string, p.fret) - bassMidi);
    return away > 0 && away <= 5;
  });
  if (near.length === 0 || isBarre(grip)) return [...notes];
  const walk = [lastBeat, lastBeat + 12].map((tick) => {
    const { string, fret, leftFinger } = rng.pick(near);
    return { tick, string, fret, leftFinger, midi: midiAt(plan, string, fret), finger: "p" as const };
  });
  return [...notes.filter((n) => n.tick < lastBeat), ...walk];
}

/** One chord for the whole bar, struck from low to high: by p-i-m-a ("rolled") or by the thumb over all strings ("strum"). */
export function lastBar(plan: BarPlan, how: "rolled" | "strum", rng: Rng): BarNote[] {
  if (how === "rolled")
    return notesOfHit(plan, { tick: 0, roles: "pima" }, rng).map((note, idx) => ({ ...note, rolled: idx }));
  return plan.gripAt(0).strings.map(({ string, fret, leftFinger }, idx) => ({
    tick: 0,
    string,
    fret,
    leftFinger,
    midi: midiAt(plan, string, fret),
    finger: "p",
    rolled: idx,
  }));
}
