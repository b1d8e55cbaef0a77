// Plays a study: symbolic notes in, timed notes out, with the true time of every beat. Drift is a slow wave of the
// tempo, rubato slows the last bar of every four, jitter moves hits and, less, the notes of one hit. A note rings
// until its string is plucked again, until the left hand leaves it for the next shape, or until it has died away.
import { makeRng, type Rng } from "./rng.js";
import type { Study, StudyNote } from "./study.js";

export type CountIn = "none" | "clicks" | "taps" | "voice" | "muted";

/** @property jitterMs deviation of a hit's time @property drift tempo wave, 0.03 = ±3 % @property rubato slowing of the last
 *   bar of four, 0.1 = a tenth slower @property leadSec silence before anything sounds
 * @property pauses silence of `sec` before a bar @property tempoSteps from a bar on, `factor` times as fast
 * @property falseStartBeats the player begins, stops after so many beats, and begins again a second later
 * @property swing long : short; default the study's own @property slips how many notes are played a fret off, left out or added */
export type PerformOptions = {
  seed?: number;
  jitterMs?: number;
  drift?: number;
  rubato?: number;
  countIn?: CountIn;
  leadSec?: number;
  swing?: number;
  slips?: number;
  pauses?: readonly { beforeBar: number; sec: number }[];
  tempoSteps?: readonly { fromBar: number; factor: number }[];
  falseStartBeats?: number;
};

/** A note as played. Times in seconds from the start of the recording, velocity 0…1. */
export type TimedNote = StudyNote & { onsetSec: number; offsetSec: number; velocity: number };

/** Something that sounds before the music. */
export type CountInSound = { kind: Exclude<CountIn, "none">; atSec: number; number: number };

/** What the player did otherwise than written; `written` is the note of the study, `played` what sounded instead. */
type Slip =
  | { kind: "wrong-fret"; written: StudyNote; played: StudyNote }
  | { kind: "left-out"; written: StudyNote }
  | { kind: "added"; played: StudyNote };

/** @property beatSec time of every beat from bar 1 beat 1 to one past the last bar; length barCount·beats + 1
 * @property before notes of a false start, in the bars they belong to */
export type Performance = {
  study: Study;
  notes: TimedNote[];
  before: TimedNote[];
  beatSec: number[];
  countIn: CountInSound[];
  countInBeats: number;
  slips: Slip[];
  durationSec: number;
};

/** Longest audible ring of a string, seconds: 4.2 in the bass, 2.6 at the top; FluidR3 and the npm notes last about so long. */
export const ringSec = (midi: number): number => Math.max(2.2, 4.2 - (midi - 40) * 0.045);
/** Fingers land and lift a little before the new shape's first note. */
const LIFT_SEC = 0.02;
/** From one string of a chord to the next: struck through by the thumb, or rolled p-i-m-a. */
const STRUM_SEC = 0.015;
const ROLL_SEC = 0.03;
const FINGER_WEIGHT = { p: 0.8, i: 0.58, m: 0.62, a: 0.72 } as const;

function beatTimes(study: Study, rng: Rng, firstBeatSec: number, options: PerformOptions): number[] {
  const { drift = 0.005, rubato = 0, pauses = [], tempoSteps = [] } = options;
  const beatCount = study.barCount * study.meter.beats;
  const phase = rng.next() * 2 * Math.PI;
  const cyclesOverTake = 0.75 + rng.next() * 1.5;
  const times = [firstBeatSec];
  for (let beat = 0; beat < beatCount; beat++) {
    const bar = Math.floor(beat / study.meter.beats);
    const wave = 1 + drift * Math.sin(phase + (2 * Math.PI * cyclesOverTake * beat) / beatCount);
    const within = (beat % study.meter.beats) / study.meter.beats;
    const slow = bar % 4 === 3 ? 1 + rubato * within : 1;
    const speed = tempoSteps.findLast((s) => s.fromBar <= bar + 1)?.factor ?? 1;
    const lastOfBar = within + 1 / study.meter.beats > 0.999;
    const pauseSec = lastOfBar ? (pauses.find((p) => p.beforeBar === bar + 2)?.sec ?? 0) : 0;
    times.push((times.at(-1) as number) + ((60 / study.tempoBpm) * wave * slow) / speed + pauseSec);
  }
  return times;
}

/** Where within a beat a tick falls, 0…1: straight, or with the second half late. */
export function beatShare(tickInBeat: number, swing: number): number {
  const share = tickInBeat / 24;
  const half = swing / (1 + swing);
  return share < 0.5 ? share * 2 * half : half + (share - 0.5) * 2 * (1 - half);
}

/** Time of a tick by the beat times (a pick-up's tick counts from the start of a whole bar 0 here); within a beat that a pause prolongs, by the beat before it. */
export function tickToSec(
  beatSec: readonly number[],
  beatsPerBar: number,
  bar: number,
  tick: number,
  swing: number,
): number {
  const beat = (bar - 1) * beatsPerBar + Math.floor(tick / 24);
  const firstSec = beatSec[0] as number;
  if (beat < 0) {
    const lengthSec = (beatSec[1] as number) - firstSec; // before bar 1 the first beat's pace holds
    return firstSec + (beat + beatShare(tick % 24, swing)) * lengthSec;
  }
  const start = beatSec[beat] as number;
  const last = start - (beatSec[beat - 1] ?? start - 1e9);
  const lengthSec = (beatSec[beat + 1] ?? start + last) - start;
  return start + beatShare(tick % 24, swing) * (lengthSec > 1.7 * last ? last : lengthSec);
}

function makeSlips(study: Study, count: number, rng: Rng): { notes: StudyNote[]; slips: Slip[] } {
  const notes = [...study.notes];
  const slips: Slip[] = [];
  const spoiled = new Set<StudyNote>();
  for (let tries = 0; slips.length < count && tries < count * 20; tries++) {
    const written = rng.pick(study.notes);
    if (spoiled.has(written) || written.rolled !== undefined) continue;
    spoiled.add(written);
    const at = notes.indexOf(written);
    const kind = rng.pick(["wrong-fret", "wrong-fret", "left-out", "added"] as const);
    if (kind === "left-out") {
      notes.splice(at, 1);
      slips.push({ kind, written });
    } else if (kind === "wrong-fret") {
      const by = rng.pick(written.fret > 0 ? [-1, 1, 2] : [1, 2]);
      const played = { ...written, fret: written.fret + by, midi: written.midi + by };
      notes[at] = played;
      slips.push({ kind, written, played });
    } else {
      const free = [1, 2, 3, 4].filter(
        (s) => !study.notes.some((n) => n.bar === written.bar && n.tick === written.tick && n.string === s),
      );
      if (free.length === 0) continue;
      const string = rng.pick(free);
      const midi = (study.openMidi[6 - string] as number) + study.capo;
      const played: StudyNote = {
        ...written,
        string,
        fret: 0,
        leftFinger: 0,
        midi,
        finger: string >= 4 ? "p" : "i",
      };
      notes.push(played);
      slips.push({ kind, played });
    }
  }
  return { notes, slips };
}

/** Plays a study; the same options give the same performance. */
export function perform(study: Study, options: PerformOptions = {}): Performance {
  const { seed = 1, jitterMs = 5, countIn = "none", leadSec = 0.5, slips = 0, falseStartBeats = 0 } = options;
  const rng = makeRng(`perform ${study.name} ${seed}`);
  const beats = study.meter.beats;
  const swing = options.swing ?? study.swingRatio;
  const beatLenSec = 60 / study.tempoBpm;
  // A pick-up fills up the bar that is counted; two bars are counted where one would leave a single count.
  const counted = beats - study.pickupBeats;
  const countInBeats = countIn === "none" ? 0 : counted >= 2 ? counted : counted + beats;
  const falseStartSec = leadSec + (countInBeats + study.pickupBeats) * beatLenSec;
  const firstBeatSec = falseStartSec + (falseStartBeats > 0 ? falseStartBeats * beatLenSec + 1 : 0);
  const beatSec = beatTimes(study, rng, firstBeatSec, options);
  const counts: CountInSound[] = [];
  if (countIn !== "none")
    for (let k = 0; k < countInBeats; k++)
      counts.push({ kind: countIn, atSec: leadSec + k * beatLenSec, number: (k % beats) + 1 });

  const made = makeSlips(study, slips, makeRng(`slips ${study.name} ${seed}`));
  const ordered = [...made.notes].sort((a, b) => a.bar - b.bar || a.tick - b.tick || b.string - a.string);
  const hitJitter = new Map<string, number>();
  const timed: TimedNote[] = ordered.map((note) => {
    const hitKey = `${note.bar} ${note.tick}`;
    const moved = hitJitter.get(hitKey) ?? (rng.gauss() * jitterMs) / 1000;
    hitJitter.set(hitKey, moved);
    const own = (rng.gauss() * Math.min(4, jitterMs * 0.4)) / 1000;
    const roll = (note.rolled ?? 0) * (note.finger === "p" ? STRUM_SEC : ROLL_SEC);
    const tick = note.bar === 0 ? note.tick + (beats - study.pickupBeats) * 24 : note.tick;
    const onsetSec = tickToSec(beatSec, beats, note.bar, tick, swing) + moved + own + roll;
    const onBeat = note.tick === 0 ? 0.1 : note.tick % 24 === 0 ? 0.03 : -0.04;
    const velocity = Math.max(0.2, Math.min(1, FINGER_WEIGHT[note.finger] + onBeat + rng.gauss() * 0.07));
    return { ...note, onsetSec: Math.max(0.01, onsetSec), offsetSec: 0, velocity };
  });
  setOffsets(study, timed);
  const before = falseStart(timed, beats, falseStartBeats, firstBeatSec - falseStartSec);
  const lastOff = Math.max(...timed.map((n) => n.offsetSec));
  return {
    study,
    notes: timed.sort((a, b) => a.onsetSec - b.onsetSec || a.midi - b.midi || b.string - a.string),
    before,
    beatSec,
    countIn: counts,
    countInBeats,
    slips: made.slips,
    durationSec: lastOff + 0.4,
  };
}

/** The first beats once more, earlier, and stopped by the hand. */
function falseStart(
  notes: readonly TimedNote[],
  beats: number,
  falseStartBeats: number,
  earlierSec: number,
): TimedNote[] {
  const begun = notes.filter((n) => (n.bar - 1) * beats + n.tick / 24 < falseStartBeats);
  const lastOnset = Math.max(...begun.map((n) => n.onsetSec));
  return begun.map((n) => {
    const offsetSec = Math.min(n.offsetSec, lastOnset + 0.25);
    return { ...n, onsetSec: n.onsetSec - earlierSec, offsetSec: offsetSec - earlierSec };
  });
}

/** Sets every note's end: its string's next pluck, the left hand leaving it, or its own decay. */
function setOffsets(study: Study, notes: readonly TimedNote[]): void {
  const shapeAt = new Map<number, string>(); // bar·1000 + tick of each change → shape name
  for (const c of study.chords) shapeAt.set(c.bar * 1000 + (c.beat - 1) * 24, c.shape);
  const changes = [...shapeAt.keys()].sort((a, b) => a - b);
  const shapeIdxOf = (n: StudyNote): number =>
    Math.max(
      0,
      changes.findLastIndex((key) => key <= n.bar * 1000 + n.tick),
    );
  for (const note of notes) {
    let offsetSec = note.onsetSec + ringSec(note.midi);
    const idx = shapeIdxOf(note);
    for (const later of notes) {
      if (later === note || later.onsetSec <= note.onsetSec) continue;
      if (later.string === note.string) offsetSec = Math.min(offsetSec, later.onsetSec);
      else if (note.fret > 0) {
        const laterIdx = shapeIdxOf(later);
        const moved =
          laterIdx > idx &&
          changes
            .slice(idx + 1, laterIdx + 1)
            .some((k) => shapeAt.get(k) !== shapeAt.get(changes[idx] as number));
        const taken =
          later.leftFinger === note.leftFinger && later.leftFinger > 0 && later.fret !== note.fret;
        if (moved || taken) offsetSec = Math.min(offsetSec, later.onsetSec - LIFT_SEC);
      }
    }
    note.offsetSec = Math.max(note.onsetSec + 0.03, offsetSec);
  }
}
