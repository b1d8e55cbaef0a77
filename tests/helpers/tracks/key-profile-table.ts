// Weights of the twelve notes over the tonic in major and minor keys: what general key finders compare a recording with.
export type KeyProfiles = { major: readonly number[]; minor: readonly number[] };

// Listeners' ratings of the twelve notes after a key was set up. Source: Krumhansl & Kessler 1982, Psychological Review 89(4), C major and C minor.
export const KRUMHANSL_KESSLER: KeyProfiles = {
  major: [6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88],
  minor: [6.33, 2.68, 3.52, 5.38, 2.6, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17],
};
// Share of stretches in which each note sounds, by key, in the Kostka–Payne corpus. Source: Temperley 2007, Music and Probability, chapter 6.
export const TEMPERLEY_KOSTKA_PAYNE: KeyProfiles = {
  major: [0.748, 0.06, 0.488, 0.082, 0.67, 0.46, 0.096, 0.715, 0.104, 0.366, 0.057, 0.4],
  minor: [0.712, 0.084, 0.474, 0.618, 0.049, 0.46, 0.105, 0.747, 0.404, 0.067, 0.133, 0.33],
};
