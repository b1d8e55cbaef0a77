import type { ModeName } from "../../../src/harmony/harmony.js";
import { pitchClassOf } from "../takes/grips.js";
import { MODE_STEPS, undecidedPairs, usesFlats } from "../takes/modes.js";
import { makeRng } from "../takes/rng.js";
import type { StudyUndecided } from "../takes/study.js";
import { PLANS } from "./plan-table.js";

/** A chord of a plan: pitch classes, and the symbol as printed. */
export type PlanChord = { symbol: string; rootPc: number; bassPc: number; pcs: number[] };

/** What a track is to be; everything follows from the seed. */
export type TrackSpec = {
  seed: number;
  tonicPc: number;
  tonic: string;
  mode: ModeName;
  isOpen: boolean;
  meter: { beats: number; unit: number };
  tempoBpm: number;
  bars: PlanChord[];
  /** First bar index of the second key, and its tonic; absent when the key stays. */
  change?: { barIdx: number; tonicPc: number };
  style: "pop" | "ballad" | "funk" | "folk" | "waltz" | "drone";
  detuneCents: number;
  hasDrums: boolean;
  melody: boolean;
};

export type TrackTruth = {
  tonic: string;
  mode: ModeName;
  undecided: StudyUndecided[];
  chords: { startSec: number; endSec: number; symbol: string; bassPc: number }[];
  sections: { startSec: number; endSec: number; tonic: string; mode: ModeName }[];
  tuningCents: number;
  pcs: number[];
};

const QUALITIES: Record<string, { suffix: string; steps: number[] }> = {
  "": { suffix: "", steps: [0, 4, 7] },
  m: { suffix: "m", steps: [0, 3, 7] },
  m7: { suffix: "m7", steps: [0, 3, 7, 10] },
  dom: { suffix: "7", steps: [0, 4, 7, 10] },
  maj7: { suffix: "maj7", steps: [0, 4, 7, 11] },
  dim: { suffix: "dim", steps: [0, 3, 6] },
  hdim: { suffix: "m7b5", steps: [0, 3, 6, 10] },
};

const NAMES = { sharps: "C C# D D# E F F# G G# A A# B", flats: "C Db D Eb E F Gb G Ab A Bb B" };
const nameOf = (pc: number, flats: boolean): string =>
  (flats ? NAMES.flats : NAMES.sharps).split(" ")[((pc % 12) + 12) % 12] as string;

function readChord(text: string, tonicPc: number, flats: boolean): PlanChord {
  const match = /^(\d+)([a-z]\w*)?(?:\/(\d+))?$/.exec(text);
  const quality = QUALITIES[match?.[2] ?? ""];
  if (!match || !quality) throw new Error(`no plan chord: ${text}`);
  const rootPc = (tonicPc + Number(match[1])) % 12;
  const bassPc = match[3] === undefined ? rootPc : (tonicPc + Number(match[3])) % 12;
  const symbol =
    nameOf(rootPc, flats) + quality.suffix + (bassPc === rootPc ? "" : `/${nameOf(bassPc, flats)}`);
  return { symbol, rootPc, bassPc, pcs: quality.steps.map((s) => (rootPc + s) % 12) };
}

const TONICS = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"] as const;

/** The plan of a seed: mode and plan go round the table, the rest is by chance. Seeds from 0. */
export function trackSpec(seed: number): TrackSpec {
  const rng = makeRng(`track ${seed}`);
  // Even and odd seeds both pass over every row: 48 seeds use rows 0…31 with both parities.
  const row = PLANS[Math.floor(seed / 2 + (seed % 2) * 7) % PLANS.length] as (typeof PLANS)[number];
  const tonic = rng.pick(TONICS);
  const tonicPc = pitchClassOf(tonic);
  const style = rng.pick(["pop", "ballad", "funk", "folk", "waltz", "drone"] as const);
  const meter = style === "waltz" ? { beats: 3, unit: 4 } : { beats: 4, unit: 4 };
  const flats = usesFlats(tonic, row.mode);
  const once = row.bars.split(" ").map((text) => readChord(text, tonicPc, flats));
  const tempoBpm = 66 + rng.int(90);
  const barSec = (meter.beats * 60) / tempoBpm;
  const times = Math.max(2, Math.round((rng.chance(0.25) ? 24 : 42 + rng.int(20)) / barSec / once.length));
  const bars = Array.from({ length: times }, () => once).flat();
  const isChanging = !row.open && rng.chance(0.14) && times >= 4;
  let change: TrackSpec["change"];
  if (isChanging) {
    const up = rng.pick([2, 3, 5, 9]);
    const newTonic = (tonicPc + up) % 12;
    const name = TONICS[newTonic] as string;
    const newFlats = usesFlats(name, row.mode);
    const from = Math.ceil(times * 0.6) * once.length;
    const moved = row.bars.split(" ").map((text) => readChord(text, newTonic, newFlats));
    for (let k = from; k < bars.length; k++) bars[k] = moved[k % once.length] as PlanChord;
    change = { barIdx: from, tonicPc: newTonic };
  } else if (rng.chance(0.6)) bars.push(once[0] as PlanChord); // most end at home, some just stop
  return {
    seed,
    tonicPc,
    tonic,
    mode: row.mode,
    isOpen: row.open === true,
    meter,
    tempoBpm,
    bars,
    ...(change ? { change } : {}),
    style,
    detuneCents: rng.chance(0.4) ? Math.round((rng.next() * 90 - 45) * 10) / 10 : 0,
    hasDrums: rng.chance(0.8),
    melody: rng.chance(0.6),
  };
}

/** Everything that is true of a track. @param pcs pitch classes that sound @param leadSec silence before bar 1 */
export function trackTruth(spec: TrackSpec, pcs: ReadonlySet<number>, leadSec: number): TrackTruth {
  const barSec = (spec.meter.beats * 60) / spec.tempoBpm;
  const endSec = leadSec + spec.bars.length * barSec;
  const chords: TrackTruth["chords"] = [];
  spec.bars.forEach((chord, k) => {
    const last = chords.at(-1);
    const startSec = leadSec + k * barSec;
    if (last && last.symbol === chord.symbol) last.endSec = startSec + barSec;
    else chords.push({ startSec, endSec: startSec + barSec, symbol: chord.symbol, bassPc: chord.bassPc });
  });
  const changeSec = spec.change ? leadSec + spec.change.barIdx * barSec : endSec;
  const sections = [{ startSec: leadSec, endSec: changeSec, tonic: spec.tonic, mode: spec.mode }];
  if (spec.change)
    sections.push({
      startSec: changeSec,
      endSec,
      tonic: TONICS[spec.change.tonicPc] as string,
      mode: spec.mode,
    });
  return {
    tonic: spec.tonic,
    mode: spec.mode,
    undecided: spec.change ? [] : undecidedPairs(spec.tonic, spec.mode, pcs),
    chords,
    sections,
    tuningCents: spec.detuneCents,
    pcs: [...pcs].sort((a, b) => a - b),
  };
}

/** Steps that a melody may use: the mode's, without the degree that an open track leaves out. */
export function melodySteps(spec: TrackSpec): number[] {
  const used = new Set(
    spec.bars.flatMap((c) => [...c.pcs, c.bassPc]).map((pc) => (pc - spec.tonicPc + 12) % 12),
  );
  return spec.isOpen ? MODE_STEPS[spec.mode].filter((s) => used.has(s)) : [...MODE_STEPS[spec.mode]];
}
