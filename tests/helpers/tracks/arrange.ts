import { makeRng } from "../takes/rng.js";
import { melodySteps, type PlanChord, type TrackSpec } from "./plan.js";

/** A sounding event: beats from bar 1. Channel 9 is drums. */
type TrackEvent = {
  channel: number;
  midi: number;
  velocity: number;
  startBeat: number;
  endBeat: number;
};
export type Arrangement = {
  events: TrackEvent[];
  programs: { channel: number; program: number }[];
  pcs: Set<number>;
};

// General MIDI level 1 programs, counted from 0. Source: General MIDI level 1 sound set.
const BASSES = [32, 33, 34, 35, 43]; // acoustic, fingered, picked, fretless, contrabass
const KEYS = [0, 4, 5, 16, 11]; // piano, electric pianos, drawbar organ, vibraphone
const GUITARS = [24, 25, 26, 27]; // nylon, steel, jazz, clean
const PADS = [48, 89, 52]; // strings, warm pad, choir
const LEADS = [65, 73, 56, 29]; // alto sax, flute, trumpet, overdriven guitar
// Drum keys. Source: General MIDI level 1 percussion map.
const KICK = 36;
const SNARE = 38;
const HAT = 42;
const RIDE = 51;
const STICK = 37;

/** Plays a plan with bass, keys, guitar, pad, drums, maybe a melody. Deterministic by the plan's seed. */
export function arrange(spec: TrackSpec): Arrangement {
  const rng = makeRng(`arrange ${spec.seed}`);
  const { beats } = spec.meter;
  const events: TrackEvent[] = [];
  const push = (
    channel: number,
    midi: number,
    velocity: number,
    startBeat: number,
    lengthBeats: number,
  ): void => {
    const loudness = Math.max(20, Math.min(120, Math.round(velocity + rng.gauss() * 5)));
    const late = channel === 9 ? 0 : Math.abs(rng.gauss()) * 0.008;
    events.push({
      channel,
      midi,
      velocity: loudness,
      startBeat: startBeat + late,
      endBeat: startBeat + lengthBeats,
    });
  };
  const programs = [
    { channel: 0, program: rng.pick(BASSES) },
    { channel: 1, program: rng.pick(KEYS) },
    { channel: 2, program: rng.pick(GUITARS) },
    { channel: 3, program: rng.pick(PADS) },
    { channel: 4, program: rng.pick(LEADS) },
  ];
  const fill = rng.int(3);
  spec.bars.forEach((chord, barIdx) => {
    const at = barIdx * beats;
    bass(spec, chord, spec.bars[barIdx + 1], at, push);
    comp(spec, chord, at, push, rng.int(2));
    if (spec.style === "ballad" || spec.style === "drone" || fill === 0)
      for (const midi of voicing(chord.pcs, 55)) push(3, midi, 52, at, beats - 0.05);
    if (spec.hasDrums) drums(spec, at, push);
    if (spec.melody && spec.change === undefined && barIdx >= 2) melody(spec, chord, at, push, rng.int(1000));
  });
  const pcs = new Set(events.filter((e) => e.channel !== 9).map((e) => e.midi % 12));
  return { events: events.sort((a, b) => a.startBeat - b.startBeat || a.midi - b.midi), programs, pcs };
}

type Push = (channel: number, midi: number, velocity: number, startBeat: number, lengthBeats: number) => void;

/** Pitch classes placed upward from `low`. */
const voicing = (pcs: readonly number[], low: number): number[] =>
  pcs.map((pc) => low + ((((pc - low) % 12) + 12) % 12)).sort((a, b) => a - b);

function bass(spec: TrackSpec, chord: PlanChord, next: PlanChord | undefined, at: number, push: Push): void {
  const { beats } = spec.meter;
  const low = 28 + ((((chord.bassPc - 28) % 12) + 12) % 12);
  const fifth = chord.pcs.includes((chord.bassPc + 7) % 12) ? low + 7 : low + 12;
  if (spec.style === "drone") {
    push(0, low, 92, at, beats - 0.1);
    return;
  }
  if (spec.style === "funk") {
    for (const [beat, up] of [
      [0, 0],
      [0.75, 0],
      [1.5, 12],
      [2.5, 0],
      [3.5, 0],
    ] as const)
      push(0, low + up, 96, at + beat, 0.4);
    return;
  }
  if (spec.style === "folk") {
    for (let b = 0; b < beats; b += 2) push(0, b % 4 === 0 ? low : fifth, 92, at + b, 1.7);
    return;
  }
  push(0, low, 96, at, spec.style === "ballad" ? beats - 0.2 : 1.4);
  if (spec.style === "pop")
    for (const b of [1.5, 2, 3]) push(0, b === 3 && next && next !== chord ? fifth : low, 90, at + b, 0.7);
  if (spec.style === "waltz" && beats === 3) push(0, fifth, 84, at + 2, 0.8);
}

function comp(spec: TrackSpec, chord: PlanChord, at: number, push: Push, turn: number): void {
  const { beats } = spec.meter;
  const keys = voicing(chord.pcs, 58);
  const guitar = voicing([...chord.pcs], 52);
  if (spec.style === "ballad" || spec.style === "drone") {
    const notes = [...guitar, (guitar[0] as number) + 12];
    for (let k = 0; k < beats * 2; k++)
      push(2, notes[[0, 1, 2, 3, 2, 1][k % 6] as number] ?? (notes[0] as number), 70, at + k / 2, 1.4);
    if (spec.style === "ballad") for (const midi of keys) push(1, midi, 60, at, beats - 0.1);
    return;
  }
  if (spec.style === "funk") {
    for (const b of [0.5, 1.25, 2, 2.75, 3.5])
      for (const midi of guitar.slice(-3)) push(2, midi + 12, 66, at + b, 0.2);
    for (const b of [0, 1.5]) for (const midi of keys) push(1, midi, 64, at + b, 0.9);
    return;
  }
  if (spec.style === "waltz") {
    for (const b of [1, 2]) for (const midi of keys) push(1, midi, 66, at + b, 0.7);
    for (const midi of guitar) push(2, midi, 56, at, 1.8);
    return;
  }
  const hits = spec.style === "folk" ? [0, 1, 1.5, 2.5, 3, 3.5] : turn === 0 ? [0, 1.5, 3] : [0, 2, 3.5];
  for (const b of hits.filter((b) => b < beats)) {
    guitar.forEach((midi, k) => {
      push(2, midi, 68, at + b + k * 0.015, 0.7);
    });
  }
  if (spec.style === "pop") for (const b of [0, 2]) for (const midi of keys) push(1, midi, 62, at + b, 1.8);
}

function drums(spec: TrackSpec, at: number, push: Push): void {
  const { beats } = spec.meter;
  for (let b = 0; b < beats; b += 0.5)
    push(9, spec.style === "ballad" ? RIDE : HAT, b % 1 === 0 ? 64 : 48, at + b, 0.1);
  for (let b = 0; b < beats; b++) {
    if (beats === 3 ? b === 0 : b % 2 === 0) push(9, KICK, 100, at + b, 0.1);
    else push(9, spec.style === "ballad" ? STICK : SNARE, 86, at + b, 0.1);
  }
}

/** A line that mostly takes chord notes on the beat and steps of the mode between. */
function melody(spec: TrackSpec, chord: PlanChord, at: number, push: Push, chance: number): void {
  const rng = makeRng(`melody ${spec.seed} ${chance} ${at}`);
  const scale = melodySteps(spec).map((s) => (spec.tonicPc + s) % 12);
  const line = voicing([...new Set(scale)], 67);
  let idx = Math.max(
    0,
    line.findIndex((m) => m % 12 === rng.pick(chord.pcs)),
  );
  for (let b = 0; b < spec.meter.beats; b += rng.pick([0.5, 1, 1.5])) {
    if (rng.chance(0.25)) continue;
    if (b % 2 === 0) {
      const near = line.map((m, k) => [k, chord.pcs.includes(m % 12) ? Math.abs(k - idx) : 99] as const);
      idx = near.reduce((best, x) => (x[1] < best[1] ? x : best))[0];
    } else idx = Math.max(0, Math.min(line.length - 1, idx + rng.pick([-1, 1])));
    push(4, line[idx] as number, 74, at + b, 0.8);
  }
}
