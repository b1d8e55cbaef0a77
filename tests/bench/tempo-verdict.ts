/** Levels that count as another reading of the same pulse: those of MIREX's tempo task (McKinney, Moelants, Davies & Klapuri 2007, JNMR 36),
 * double, half, triple, third; and three against two, as triplets of quarters and sixteenths of eighths are the same steps. */
const LEVELS = [2, 1 / 2, 3, 1 / 3, 3 / 2, 2 / 3, 4, 1 / 4, 3 / 4, 4 / 3];

/** "right" within 1 %; "near" within 4 %, as MIREX counts; "level", another one of the same pulse within 4 %; or "wrong". */
export function tempoVerdict(bpm: number | undefined, trueBpm: number): string {
  if (bpm === undefined) return "no answer";
  const within = (q: number, share: number): boolean => Math.abs(bpm / trueBpm / q - 1) < share;
  if (within(1, 0.01)) return "right";
  if (within(1, 0.04)) return "near";
  return LEVELS.some((q) => within(q, 0.04)) ? "level" : "wrong";
}
