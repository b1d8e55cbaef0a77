import type { PatternHit, Sheet, SheetNote } from "../../../src/sheet/sheet.js";
import type { Performance, TimedNote } from "./perform.js";
import type { Study, StudyChord, StudyNote } from "./study.js";

const TUNING_LABEL = { standard: "standard", "drop-d": "drop-d", dadgad: "dadgad" } as const;

/** The pattern's hits with the string that most bars pluck there. */
function hitsOf(study: Study): PatternHit[] {
  const counts = new Map<string, { hit: PatternHit; count: number }>();
  for (const note of study.notes) {
    if (!study.patternBars.includes(note.bar)) continue;
    const hit = { beat: 1 + note.tick / 24, finger: note.finger, string: note.string };
    if (hit.beat >= 1 + study.pattern.beats) continue;
    const key = `${hit.beat} ${hit.finger} ${hit.string}`;
    const known = counts.get(key);
    if (known === undefined) counts.set(key, { hit, count: 1 });
    else known.count++;
  }
  const best = new Map<string, { hit: PatternHit; count: number }>();
  for (const entry of counts.values()) {
    const key = `${entry.hit.beat} ${entry.hit.finger}`;
    const known = best.get(key);
    if (known === undefined || entry.count > known.count) best.set(key, entry);
  }
  return [...best.values()].map((b) => b.hit).sort((a, b) => a.beat - b.beat || b.string - a.string);
}

const keyOf = (n: StudyNote): string => `${n.bar} ${n.tick} ${n.string}`;

const sheetNote = (note: StudyNote, played: TimedNote | undefined): SheetNote => ({
  bar: note.bar,
  tick: note.tick,
  lengthTicks: note.lengthTicks,
  string: note.string,
  fret: note.fret,
  midi: note.midi,
  finger: note.finger,
  leftFinger: note.leftFinger,
  marks: [],
  by: "hand",
  confidence: 1,
  alternatives: [],
  ...(played === undefined
    ? {}
    : { onsetSec: played.onsetSec, offsetSec: played.offsetSec, velocity: played.velocity }),
});

/** When a chord sounds, by the beats as played; nothing without a performance. */
function chordTimes(
  study: Study,
  chord: StudyChord,
  beatSec: readonly number[],
): { startSec?: number; endSec?: number } {
  const beat = (chord.bar - 1) * study.meter.beats + chord.beat - 1;
  const timeOf = (at: number): number | undefined => {
    const low = beatSec[Math.floor(at)];
    const high = beatSec[Math.ceil(at)];
    return low === undefined || high === undefined ? undefined : low + (at % 1) * (high - low);
  };
  const startSec = timeOf(beat);
  const endSec = timeOf(beat + chord.beats);
  return startSec === undefined || endSec === undefined ? {} : { startSec, endSec };
}

const PARENT_OF: Record<string, string> = {
  "harmonic minor": "harmonic minor",
  "melodic minor": "melodic minor",
};

/** A true sheet of a study, as a careful hand would write it. With a performance, the times of beats, notes and chords
 * are filled in too. */
export function toSheet(study: Study, performance?: Performance): Sheet {
  const { tonic, mode, undecided } = study.mode;
  const beatSec = performance?.beatSec ?? [];
  const played = new Map(performance?.notes.map((n) => [keyOf(n), n]));
  return {
    title: study.title,
    composer: "",
    tuningName: TUNING_LABEL[study.tuning],
    openMidi: [...study.openMidi],
    capo: study.capo,
    grid: {
      tempoBpm: study.tempoBpm,
      tempoFrom: "user",
      meter: study.meter,
      feel: study.feel,
      swingRatio: study.swingRatio,
      beatSec: [...beatSec],
      firstBeatSec: beatSec[0] ?? 0,
      barCount: study.barCount,
      pickupBeats: study.pickupBeats,
      countInBeats: performance?.countInBeats ?? 0,
      confidence: 1,
      readings: [],
    },
    notes: [...study.notes]
      .sort((a, b) => a.bar - b.bar || a.tick - b.tick || b.string - a.string)
      .map((n) => sheetNote(n, played.get(keyOf(n)))),
    chords: study.chords.map((chord) => ({
      bar: chord.bar,
      beat: chord.beat,
      symbol: chord.symbol,
      root: chord.root,
      bass: chord.bass,
      ...chordTimes(study, chord, beatSec),
      confidence: 1,
      alternatives: [],
      by: "hand" as const,
    })),
    mode: {
      tonic,
      mode,
      confidence: 1,
      candidates: [{ tonic, mode, probability: 1 }],
      undecided: undecided.map((u) => ({ between: [...u.between], missingDegree: u.missingDegree })),
      evidence: [],
      parentScale: PARENT_OF[mode] === undefined ? "" : `${tonic} ${mode}`,
      improvise: [`${tonic} ${mode}`],
    },
    pattern: {
      beats: study.pattern.beats,
      hits: hitsOf(study),
      bars: [...study.patternBars],
      departures: [],
    },
    form: study.form.map(({ label, bars }) => ({ label, bars: [...bars] })),
    repeats: [],
    groupOfBar: [...study.groupOfBar],
    findings: [],
  };
}
