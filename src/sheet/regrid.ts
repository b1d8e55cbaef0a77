/** The grid moved by hand: first beat, tempo, meter or feel, and the notes placed again.
 * In: a sheet, what is to change. Out: a sheet with a new grid, notes and chords on it.
 * Method: where the new beats are the old ones shifted by half beats or counted faster or slower in a simple ratio, written places are carried over
 * exactly; otherwise a note goes to the step nearest its sound, and what has no sound goes with the time of its old place.
 * Cannot: follow a tempo that wanders when a tempo is set that is no simple ratio of the old one; the new beats are then steady. */
import { PulgarError } from "../base/errors.js";
import { roundTo } from "../base/numbers.js";
import { BEAT_TICKS, compareNotes, isGrace, notesOfBars, pickupTicks, plainLength } from "./bar-time.js";
import type { GridEdit } from "./edit.js";
import { withHandSet } from "./edit-head.js";
import type { Sheet, SheetChord, SheetGrid, SheetNote } from "./sheet.js";

const REGRID_DEFAULTS = Object.freeze({
  ratioTolerance: 0.04, // a tempo this near to a simple ratio of the old one is meant as that ratio
  shiftTolerance: 0.12, // beats: a first beat this near to a half beat of the old grid is meant as that
  stepTicks: [12, 8, 6], // halves, thirds, quarters of a beat; a finer one must be nearer by `finerTicks`
  finerTicks: 1.5,
});

/** Ticks counted from bar 1 beat 1 of the old grid, to those of the new one. */
type Carry = { kind: "exact"; scale: number; shiftBeats: number } | { kind: "by-sound" };

/** @throws PulgarError "bad-tempo", "bad-meter", "bad-usage" for values out of range */
export function regrid(sheet: Sheet, edit: GridEdit): Sheet {
  check(edit);
  const old = sheet.grid;
  const meter = edit.meter ?? old.meter;
  const feel = edit.feel ?? old.feel;
  const swingRatio =
    feel === "straight" ? 1 : (edit.swingRatio ?? (old.feel === "swing" ? old.swingRatio : 2));
  const secOf = beatClock(old);
  const shift = shiftOf(old, edit.firstBeatSec, secOf);
  const ratio = ratioOf(old.tempoBpm, edit.tempoBpm ?? old.tempoBpm);
  const feelSame = feel === old.feel && Math.abs(swingRatio - old.swingRatio) < 0.01;
  const hasSound = old.beatSec.length > 1;
  const carry: Carry =
    ratio !== undefined && (!hasSound || shift.isHalf) && (feelSame || !hasSound)
      ? { kind: "exact", scale: ratio, shiftBeats: shift.beats }
      : { kind: "by-sound" };
  const tempoBpm = edit.tempoBpm ?? old.tempoBpm;
  // Beats of the new grid by their number; 0 is bar 1 beat 1.
  const newSecOf = (beat: number): number =>
    ratio !== undefined
      ? secOf(shift.beats + beat / ratio) + shift.restSec
      : (edit.firstBeatSec ?? secOf(0)) + (beat * 60) / tempoBpm;
  const place = (note: SheetNote): number => {
    const ticks = absoluteTick(sheet, note.bar, note.tick);
    if (carry.kind === "exact") return (ticks - carry.shiftBeats * BEAT_TICKS) * carry.scale;
    const sec = note.onsetSec ?? secOf(ticks / BEAT_TICKS);
    return nearestStep(unswing(beatAt(newSecOf, sec, tempoBpm), swingRatio));
  };
  const barLen = meter.beats * BEAT_TICKS;
  const placed = sheet.notes.map((note) => ({ note, ticks: Math.round(place(note)) + 0 }));
  const first = placed.reduce((min, p) => Math.min(min, p.ticks), 0);
  const pickup = Math.max(0, Math.min(barLen, Math.ceil(-first / BEAT_TICKS) * BEAT_TICKS));
  const lastTick = placed.reduce((max, p) => Math.max(max, p.ticks), 0);
  const endBeat = hasSound ? endOf(old, newSecOf, tempoBpm) : 0;
  const barCount = Math.max(1, Math.ceil((lastTick + 1) / barLen), Math.ceil(endBeat / meter.beats - 0.25));
  const at = (ticks: number): { bar: number; tick: number } =>
    ticks < 0
      ? { bar: 0, tick: Math.max(0, ticks + pickup) }
      : { bar: Math.floor(ticks / barLen) + 1, tick: (ticks % barLen) + 0 };
  const beatSec = hasSound
    ? Array.from({ length: barCount * meter.beats + 1 }, (_, k) => roundTo(newSecOf(k), 4))
    : [];
  const notes = onePerPlace(
    placed.filter((p) => p.ticks >= -pickup).map(({ note, ticks }) => ({ ...note, ...at(ticks) })),
  );
  const scale = ratio ?? 1;
  const isSameBars =
    carry.kind === "exact" &&
    carry.scale === 1 &&
    carry.shiftBeats === 0 &&
    meter.beats === old.meter.beats &&
    barCount === old.barCount;
  const next: Sheet = {
    ...sheet,
    grid: {
      ...old,
      meter,
      feel,
      swingRatio,
      tempoBpm: roundTo(tempoBpm, 2),
      tempoFrom: edit.tempoBpm === undefined ? old.tempoFrom : "user",
      beatSec,
      firstBeatSec: beatSec[0] ?? 0,
      barCount,
      pickupBeats: pickup / BEAT_TICKS,
      confidence: 1,
    },
    notes,
    chords: oneChordPerPlace(
      sheet.chords.flatMap((chord) => {
        const ticks = absoluteTick(sheet, chord.bar, (chord.beat - 1) * BEAT_TICKS);
        const moved =
          carry.kind === "exact"
            ? (ticks - carry.shiftBeats * BEAT_TICKS) * carry.scale
            : Math.round(beatAt(newSecOf, secOf(ticks / BEAT_TICKS), tempoBpm)) * BEAT_TICKS;
        const { bar, tick } = at(Math.max(-pickup, Math.round(moved)));
        return bar > barCount ? [] : [{ ...chord, bar, beat: 1 + tick / BEAT_TICKS }];
      }),
    ),
    // Where bars have become other bars, what speaks of bar numbers is found anew by the caller.
    ...(isSameBars ? {} : { form: [], repeats: [], groupOfBar: [] }),
  };
  const { pattern, removed, ...bare } = next;
  const rest: Omit<Sheet, "removed"> = isSameBars && pattern ? { ...bare, pattern } : bare;
  relength(rest, sheet, scale);
  const movedRemoved = (removed ?? []).flatMap((r) => {
    const ticks = absoluteTick(sheet, r.bar, r.tick);
    const moved =
      carry.kind === "exact"
        ? (ticks - carry.shiftBeats * BEAT_TICKS) * carry.scale
        : nearestStep(beatAt(newSecOf, secOf(ticks / BEAT_TICKS), tempoBpm));
    return moved < -pickup ? [] : [{ ...at(Math.round(moved)), midi: r.midi }];
  });
  return withHandSet({ ...rest, ...(movedRemoved.length > 0 ? { removed: movedRemoved } : {}) }, "grid");
}

function check(edit: GridEdit): void {
  const { tempoBpm, meter, firstBeatSec, swingRatio } = edit;
  if (tempoBpm !== undefined && !(tempoBpm >= 10 && tempoBpm <= 600))
    throw new PulgarError(
      "bad-tempo",
      `${tempoBpm} a minute; want 10 to 600`,
      "Count the meter's lower number.",
    );
  const isMeter =
    !meter ||
    (Number.isInteger(meter.beats) &&
      meter.beats >= 1 &&
      meter.beats <= 64 &&
      [1, 2, 4, 8, 16, 32].includes(meter.unit));
  if (!isMeter)
    throw new PulgarError(
      "bad-meter",
      `${meter?.beats}/${meter?.unit} is no meter`,
      "Give one such as 4/4 or 6/8.",
    );
  if (firstBeatSec !== undefined && !(firstBeatSec > -60 && firstBeatSec < 100_000))
    throw new PulgarError("bad-usage", `first beat at ${firstBeatSec} s`, "Were samples given as seconds?");
  if (swingRatio !== undefined && !(swingRatio >= 1 && swingRatio <= 4))
    throw new PulgarError("bad-usage", `swing ${swingRatio} : 1; want 1 to 4`, "Triplet swing is 2.");
}

/** Seconds of a beat counted from bar 1 beat 1; the pace of the first and last beat holds beyond them. */
function beatClock(grid: SheetGrid): (beat: number) => number {
  const { beatSec } = grid;
  const steady = 60 / grid.tempoBpm;
  if (beatSec.length < 2) return (beat) => grid.firstBeatSec + beat * steady;
  return (beat) => {
    const k = Math.max(0, Math.min(beatSec.length - 2, Math.floor(beat)));
    const from = beatSec[k] ?? 0;
    return from + (beat - k) * ((beatSec[k + 1] ?? from + steady) - from);
  };
}

/** Inverse of a rising beat clock, by halving. */
function beatAt(secOf: (beat: number) => number, sec: number, tempoBpm: number): number {
  const guess = ((sec - secOf(0)) * tempoBpm) / 60;
  let low = Math.min(0, guess) - 64;
  let high = Math.max(0, guess) + 64;
  while (secOf(low) > sec) low = 2 * low - 64;
  while (secOf(high) < sec) high = 2 * high + 64;
  for (let k = 0; k < 60 && high - low > 1e-6; k++) {
    const mid = (low + high) / 2;
    if (secOf(mid) <= sec) low = mid;
    else high = mid;
  }
  return low;
}

/** How far the first beat moves, in beats of the old grid; a half beat is taken as meant, the rest of it in seconds moves all beats. */
function shiftOf(
  grid: SheetGrid,
  firstBeatSec: number | undefined,
  secOf: (beat: number) => number,
): { beats: number; restSec: number; isHalf: boolean } {
  if (firstBeatSec === undefined) return { beats: 0, restSec: 0, isHalf: true };
  const raw = beatAt(secOf, firstBeatSec, grid.tempoBpm);
  const half = Math.round(raw * 2) / 2;
  const isHalf = Math.abs(raw - half) <= REGRID_DEFAULTS.shiftTolerance;
  const beats = isHalf ? half : raw;
  return { beats, restSec: firstBeatSec - secOf(beats), isHalf };
}

/** New tempo over old, where that is a simple ratio; undefined where it is none. */
function ratioOf(oldBpm: number, newBpm: number): number | undefined {
  const raw = newBpm / oldBpm;
  return [1, 2, 1 / 2, 3, 1 / 3, 3 / 2, 2 / 3, 4, 1 / 4].find(
    (r) => Math.abs(raw / r - 1) <= REGRID_DEFAULTS.ratioTolerance,
  );
}

/** Ticks from bar 1 beat 1; negative in a pick-up. */
const absoluteTick = (sheet: Sheet, bar: number, tick: number): number =>
  bar === 0 ? tick - pickupTicks(sheet) : (bar - 1) * sheet.grid.meter.beats * BEAT_TICKS + tick;

/** Position in beats, swing taken out: the long half of a beat becomes its half. */
function unswing(beat: number, ratio: number): number {
  const whole = Math.floor(beat);
  const long = ratio / (1 + ratio);
  const share = beat - whole;
  return whole + (share < long ? share / (2 * long) : 0.5 + (share - long) / (2 * (1 - long)));
}

/** The nearest step of halves, thirds or quarters, coarser ones first. */
function nearestStep(beat: number): number {
  const raw = beat * BEAT_TICKS;
  let best = Number.NaN;
  for (const step of REGRID_DEFAULTS.stepTicks) {
    const tick = Math.round(raw / step) * step;
    if (Number.isNaN(best) || Math.abs(tick - raw) < Math.abs(best - raw) - REGRID_DEFAULTS.finerTicks)
      best = tick;
  }
  return best;
}

/** Beat of the new grid at which the old one ends. */
const endOf = (old: SheetGrid, secOf: (beat: number) => number, tempoBpm: number): number =>
  beatAt(secOf, old.beatSec.at(-1) ?? 0, tempoBpm);

function oneChordPerPlace(chords: readonly SheetChord[]): SheetChord[] {
  const kept = new Map<string, SheetChord>();
  for (const chord of chords) {
    const key = `${chord.bar} ${chord.beat}`;
    if (kept.get(key)?.by !== "hand") kept.set(key, chord); // the later one, unless a hand wrote the earlier
  }
  return [...kept.values()].sort((a, b) => a.bar - b.bar || a.beat - b.beat);
}

function onePerPlace(notes: readonly SheetNote[]): SheetNote[] {
  const kept = new Map<string, SheetNote>();
  const rank = (n: SheetNote): number => (n.by === "hand" ? 2 : 0) + n.confidence;
  for (const note of notes) {
    const key = `${note.bar} ${note.tick} ${note.string} ${isGrace(note)}`;
    const other = kept.get(key);
    if (!other || rank(note) > rank(other)) kept.set(key, note);
  }
  return [...kept.values()].sort(compareNotes);
}

/** Lengths on the new grid: those that went without saying still do, others are scaled. */
function relength(sheet: Omit<Sheet, "removed">, old: Sheet, scale: number): void {
  const oldBars = notesOfBars(old.notes);
  const wasPlain = new Set<string>();
  const keyOf = (n: SheetNote): string =>
    `${n.onsetSec ?? ""} ${n.string} ${n.fret} ${n.lengthTicks} ${n.by}`;
  for (const note of old.notes) {
    const onString = (oldBars.get(note.bar) ?? []).filter((n) => n.string === note.string);
    const most = note.bar === 0 ? pickupTicks(old) : old.grid.meter.beats * BEAT_TICKS;
    if (note.lengthTicks === plainLength(note, onString, most)) wasPlain.add(keyOf(note));
  }
  const bars = notesOfBars(sheet.notes);
  const barLen = sheet.grid.meter.beats * BEAT_TICKS;
  sheet.notes = sheet.notes.map((note) => {
    const onString = (bars.get(note.bar) ?? []).filter((n) => n.string === note.string);
    const plain = plainLength(note, onString, note.bar === 0 ? pickupTicks(sheet) : barLen);
    const scaled = Math.max(1, Math.round(note.lengthTicks * scale));
    return { ...note, lengthTicks: wasPlain.has(keyOf(note)) ? plain : Math.min(scaled, plain) };
  });
}
