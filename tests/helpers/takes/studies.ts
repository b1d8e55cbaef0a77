import { composeStudy } from "./compose.js";
import { hasGrip, noteName } from "./grips.js";
import { usesFlats } from "./modes.js";
import { PATTERNS } from "./pattern-table.js";
import { DEGREE_PLANS, PROGRESSIONS } from "./progression-table.js";
import { makeRng, type Rng } from "./rng.js";
import { NAMED_SPECS } from "./studies-table.js";
import type { Study, StudySpec } from "./study.js";

/** All named studies, composed. */
export const namedStudies = (): Study[] => NAMED_SPECS.map(composeStudy);

/** A named study.
 * @throws Error when there is none of that name */
export function studyNamed(name: string): Study {
  const spec = NAMED_SPECS.find((s) => s.name === name);
  if (spec === undefined)
    throw new Error(`no study ${name}; there are ${NAMED_SPECS.map((s) => s.name).join(" ")}`);
  return composeStudy(spec);
}

const FORMS = ["AABA", "ABA", "AABB", "AB", "AAB", "ABAB", "AABAA"] as const;

/** A chord plan by degrees on a tonic where every chord has a grip; undefined when some has none. */
function degreeSections(
  tonicPc: number,
  rng: Rng,
): Pick<StudySpec, "tonic" | "mode" | "sections"> | undefined {
  const plan = rng.pick(DEGREE_PLANS);
  const tonic = noteName(tonicPc, [1, 3, 5, 8, 10].includes(tonicPc));
  const flats = usesFlats(tonic, plan.mode);
  const symbol = (degree: string): string => {
    const steps = Number.parseInt(degree, 10);
    return noteName(tonicPc + steps, flats) + degree.slice(String(steps).length);
  };
  const a = plan.a.map(symbol);
  const b = plan.b.map(symbol);
  if (![...a, ...b].every((s) => hasGrip(s, "standard"))) return undefined;
  return {
    tonic: noteName(tonicPc, flats),
    mode: plan.mode,
    sections: { A: a.join(" | "), B: b.join(" | ") },
  };
}

/** "A | B | C | D" → "A B | C D". */
function pairUp(section: string): string {
  const bars = section.split(" | ");
  return bars.flatMap((bar, k) => (k % 2 === 0 ? [`${bar} ${bars[k + 1] ?? bar}`] : [])).join(" | ");
}

const mapValues = (
  record: Record<string, string>,
  change: (value: string) => string,
): Record<string, string> =>
  Object.fromEntries(Object.entries(record).map(([key, value]) => [key, change(value)]));

/** The spec of a study by chance; the same seed gives the same study for good. */
export function specBySeed(seed: number): StudySpec {
  const rng = makeRng(`study ${seed}`);
  const row = rng.pick(PATTERNS);
  const swings = row.swings === true && rng.chance(0.35);
  const tempoBpm =
    row.stepTicks <= 8
      ? 58 + rng.int(27)
      : row.unit === 8
        ? (row.stepTicks < 24 ? 90 : 130) + rng.int(50)
        : 72 + rng.int(57);
  const anyKey = rng.chance(0.35) ? degreeSections(rng.int(12), rng) : undefined;
  const named = rng.pick(PROGRESSIONS);
  const chords = anyKey ?? {
    tonic: named.tonic,
    mode: named.mode,
    sections: { A: named.a, B: named.b },
  };
  // Now and then two chords share a bar.
  const halves = (row.unit === 8 ? row.beats % 6 === 0 : row.beats % 2 === 0) && rng.chance(0.15);
  const sections = halves ? mapValues(chords.sections, pairUp) : chords.sections;
  const tuning = anyKey === undefined ? named.tuning : "standard";
  const capo = anyKey === undefined && rng.chance(0.4) ? 1 + rng.int(7) : 0;
  const spec: StudySpec = {
    name: `seed-${seed}`,
    title: `Study ${seed}`,
    tuning,
    capo,
    ...chords,
    sections,
    pattern: row.name,
    form: rng.pick(FORMS),
    tempoBpm,
    feel: swings ? "swing" : "straight",
    swingRatio: 1.5 + 0.1 * rng.int(8),
    ending: rng.pick(["none", "block", "bass-run"] as const),
    last: rng.pick(["pattern", "rolled", "strum"] as const),
    seed,
  };
  const through = rng.chance(0.15);
  const pickup = rng.chance(0.08) && row.unit === 4 && row.beats >= 3;
  return { ...spec, ...(through ? { through } : {}), ...(pickup ? { pickupBeats: 1 } : {}) };
}

/** A study by chance: pattern, meter, chords, key, mode, tuning, capo, tempo, form and ending by seed. */
export const studyBySeed = (seed: number): Study => composeStudy(specBySeed(seed));
