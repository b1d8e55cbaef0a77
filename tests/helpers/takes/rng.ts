/** A seeded stream of chance: the same seed gives the same numbers on every machine. */
export type Rng = {
  /** Uniform, 0 ≤ x < 1. */
  next: () => number;
  /** Normal, mean 0, deviation 1, clipped at ±2.5. */
  gauss: () => number;
  /** Whole number 0 ≤ n < count. */
  int: (count: number) => number;
  pick: <T>(from: readonly T[]) => T;
  chance: (share: number) => boolean;
};

/** 32-bit hash of a text (FNV-1a), for seeds made of names. */
export function seedOf(text: string): number {
  let hash = 0x811c9dc5;
  for (let k = 0; k < text.length; k++) hash = Math.imul(hash ^ text.charCodeAt(k), 0x01000193);
  return hash >>> 0;
}

/** Generator mulberry32 (public domain, T. Ettinger). `seed` is any number or text. */
export function makeRng(seed: number | string): Rng {
  let state = seedOf(`pulgar ${seed}`);
  const next = (): number => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = Math.imul(state ^ (state >>> 15), state | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
  const gauss = (): number => {
    const radius = Math.sqrt(-2 * Math.log(1 - next()));
    return Math.max(-2.5, Math.min(2.5, radius * Math.cos(2 * Math.PI * next())));
  };
  const int = (count: number): number => Math.floor(next() * count);
  const pick = <T>(from: readonly T[]): T => {
    if (from.length === 0) throw new Error("nothing to pick from");
    return from[int(from.length)] as T;
  };
  return { next, gauss, int, pick, chance: (share) => next() < share };
}
