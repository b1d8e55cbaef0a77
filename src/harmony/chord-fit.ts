/** Which chord twelve weights and a lowest note make, as a player would name it. In: weights of pitch classes over the bass, the bass.
 * Out: readings, best first. Method: what the chord explains, less what it leaves over, less what it lacks, less how rare its name is.
 * A triad over a foreign bass (G/A) beats the fuller reading (A9sus4) when the bass sounds only below; a complete seventh chord on
 * its own root (Dm7) beats the triad over it (F/D). Common practice, no published source. */
import { mod } from "../base/numbers.js";
import { CHORDS } from "../theory/chord-table.js";

export type ChordReading = { rootPc: number; quality: string; bassPc: number; score: number };

/** Costs and gains, no unit; searched for chord recall on composed studies of seeds 100…155, none of which is a named study. */
export const CHORD_FIT_DEFAULTS = {
  outside: 1.1, // weight of what the chord leaves over
  missingRoot: 0.561, // a root that does not sound
  missing: 0.113, // a third, seventh, sixth or ninth that does not sound
  missingFifth: 0.2, // a fifth of a triad that does not sound
  missingOptional: 0.041, // the same of a fifth in a chord of four or more notes
  onlyBass: 0.09, // a note of the chord other than the root that sounds in the bass only
  inversion: 0.038, // a chord note other than the root in the bass
  foreign: 0.15, // a bass that is no chord note
  present: 0.046, // share of the weight from which a pitch class counts as sounding
  rootBass: 0.12, // for the root in the bass
} as const;

/** What else speaks for a chord, such as that it is used elsewhere in the piece. */
export type ChordBonus = (rootPc: number, quality: string) => number;

/** Readings of a stretch of music, best first; at most `limit`.
 * @param upper shape (12), ≥ 0, weights of what sounds over the bass @param bassPc lowest pitch class, undefined when nothing is low */
export function readChord(
  upper: readonly number[],
  bassPc: number | undefined,
  bonus: ChordBonus = () => 0,
  limit = 4,
): ChordReading[] {
  const o = CHORD_FIT_DEFAULTS;
  const total = upper.reduce((sum, x) => sum + x, 0);
  if (total <= 0 && bassPc === undefined) return [];
  const share = upper.map((x) => (total > 0 ? x / total : 0));
  const sounds = share.map((x) => Math.min(1, x / o.present));
  const readings: ChordReading[] = [];
  for (let rootPc = 0; rootPc < 12; rootPc++)
    for (const row of CHORDS) {
      let score = -row.cost;
      let inside = 0;
      for (const step of row.steps) {
        const pc = mod(rootPc + step, 12);
        inside += share[pc] ?? 0;
        const heard = sounds[pc] ?? 0;
        if (heard >= 1) continue;
        if (pc === bassPc) score -= step === 0 ? 0 : o.onlyBass * (1 - heard);
        else score -= lackOf(step, row.optional.includes(step)) * (1 - heard);
      }
      const steps = bassPc === undefined ? 0 : mod(bassPc - rootPc, 12);
      if (bassPc !== undefined)
        score += steps === 0 ? o.rootBass : row.steps.includes(steps) ? -o.inversion : -o.foreign;
      score += total > 0 ? inside - o.outside * (1 - inside) : 0;
      score += bonus(rootPc, row.suffix);
      readings.push({ rootPc, quality: row.suffix, bassPc: bassPc ?? rootPc, score });
    }
  readings.sort((a, b) => b.score - a.score || a.rootPc - b.rootPc || (a.quality < b.quality ? -1 : 1));
  return plainOverBass(readings, sounds).slice(0, limit);
}

/** Where the best reading has a note besides its root that only the bass plays, the chord without that note over the bass is what a
 * player writes (G/A, not Gadd9/A); the fuller reading comes second. Common practice, no published source. */
function plainOverBass(readings: readonly ChordReading[], sounds: readonly number[]): ChordReading[] {
  const [best] = readings;
  const row = CHORDS.find((r) => r.suffix === best?.quality);
  if (!best || !row || (sounds[best.bassPc] ?? 0) >= 1) return [...readings];
  const bassStep = mod(best.bassPc - best.rootPc, 12);
  const rest = row.steps.filter((step) => step !== bassStep);
  const plain = CHORDS.find((r) => r.steps.length >= 3 && r.steps.join() === rest.join());
  if (bassStep === 0 || rest.length === row.steps.length || !plain) return [...readings];
  const isPlain = (r: ChordReading): boolean => r.rootPc === best.rootPc && r.quality === plain.suffix;
  return [{ ...best, quality: plain.suffix }, ...readings.filter((r) => !isPlain(r))];
}

function lackOf(step: number, isOptional: boolean): number {
  const o = CHORD_FIT_DEFAULTS;
  if (step === 0) return o.missingRoot;
  if (isOptional) return o.missingOptional;
  return step === 7 ? o.missingFifth : o.missing;
}
