import type { PlacedNote } from "../../../src/grid/grid.js";
import type { FrettedNote, Instrument } from "../../../src/hands/fretted.js";
import { perform } from "../takes/perform.js";
import { makeRng } from "../takes/rng.js";
import type { Study, StudyNote } from "../takes/study.js";

/** @property sharesRight share of notes whose likeliest string by sound is the right one; undefined: no string evidence
 * @property missing, extra shares of notes that the listener misses or invents (an octave or a twelfth of a real one)
 * @property offsetJitterSec spread of wrong ends of notes */
export type HearOptions = {
  seed?: number;
  sharesRight?: number;
  missing?: number;
  extra?: number;
  offsetJitterSec?: number;
};

/** A study as a listener would hand it on, with the truth beside each note (undefined for invented ones). */
export type Heard = {
  study: Study;
  instrument: Instrument;
  notes: PlacedNote[];
  truth: (StudyNote | undefined)[];
};

export const instrumentOf = (study: Study): Instrument => ({
  openMidi: study.openMidi,
  capo: study.capo,
  highestFret: 19,
  scaleLengthMm: 650,
});

/** String evidence that points at the true string with probability `right`, else at another string that has the pitch. */
function noisyShares(
  note: StudyNote,
  openMidi: readonly number[],
  capo: number,
  right: number,
  chance: () => number,
): number[] {
  const could = openMidi
    .map((open, k) => ({ string: 6 - k, fret: note.midi - open - capo }))
    .filter((p) => p.fret >= 0 && p.fret <= 19)
    .map((p) => p.string);
  const others = could.filter((s) => s !== note.string);
  const wrong = others[Math.floor(chance() * others.length)];
  const top = wrong === undefined || chance() < right ? note.string : wrong;
  const peak = 0.45 + 0.35 * chance();
  const shares = [1, 2, 3, 4, 5, 6].map((s) =>
    s === top ? peak : could.includes(s) ? (1 - peak) / Math.max(1, could.length - 1) : 0.005,
  );
  const sum = shares.reduce((a, b) => a + b, 0);
  return shares.map((x) => x / sum);
}

/** Plays a study and hears it with the faults of a listener. */
export function hear(study: Study, options: HearOptions = {}): Heard {
  const { seed = 1, sharesRight, missing = 0, extra = 0, offsetJitterSec = 0 } = options;
  const rng = makeRng(`hear ${study.name} ${seed}`);
  const chance = (): number => rng.next();
  const notes: PlacedNote[] = [];
  const truth: (StudyNote | undefined)[] = [];
  for (const n of perform(study, { seed }).notes) {
    if (chance() < missing) continue;
    const placed: PlacedNote = {
      onsetSec: n.onsetSec,
      offsetSec: Math.max(n.onsetSec + 0.05, n.offsetSec + (chance() - 0.6) * 2 * offsetJitterSec),
      midi: n.midi,
      confidence: 0.9,
      velocity: n.velocity,
      bar: n.bar,
      tick: n.tick,
      lengthTicks: n.lengthTicks,
      ...(sharesRight === undefined
        ? {}
        : { stringShares: noisyShares(n, study.openMidi, study.capo, sharesRight, chance) }),
    };
    notes.push(placed);
    truth.push(n);
    if (chance() < extra && n.midi + 12 < 84) {
      notes.push({ ...placed, midi: n.midi + (chance() < 0.7 ? 12 : 19), confidence: 0.4 });
      truth.push(undefined);
    }
  }
  return { study, instrument: instrumentOf(study), notes, truth };
}

/** Shares of the notes heard right whose place, and whose picking finger, is right: [right, of]. */
export function scoreHeard(
  heard: Heard,
  fretted: readonly FrettedNote[],
): { place: [number, number]; pick: [number, number] } {
  const place: [number, number] = [0, 0];
  const pick: [number, number] = [0, 0];
  heard.truth.forEach((t, k) => {
    const f = fretted[k];
    if (t === undefined || f === undefined) return;
    place[1]++;
    pick[1]++;
    if (f.string === t.string && f.fret === t.fret) place[0]++;
    if (f.finger === t.finger) pick[0]++;
  });
  return { place, pick };
}
