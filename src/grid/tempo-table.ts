/** What speaks for a reading of tempo and meter: features of tempo.ts and their weights in nats. `quarterOf2` stands for two steps a
 * quarter beat, `meter3` for three beats a bar. Origin: fitted by `npm run bench -- tempo-fit` (logistic regression with a ridge, on
 * composed studies of seeds 7000 to 7199 heard by chance, without a count-in); `count` is set by hand: players also count otherwise. */
export const TEMPO_WEIGHTS = {
  repeat: 7.14,
  change: 4.23,
  changeOverRest: 2.17,
  opens: 2.55,
  bassOnGroup: 5.12,
  fullOnGroup: 1.11,
  hitOnGroup: 1.68,
  swung: 2.68,
  count: 4,
  quarterPace: -2.67,
  quarterFar: -6.06,
  finePace: 5.7,
  fineFar: -4.73,
  tripletPace: 1.8,
  tripletFar: -3.94,
  dividedPace: 4.39,
  dividedFar: -2.39,
  eighthPace: -5.98,
  eighthFar: -4.52,
  quarterOf1: -0.12,
  quarterOf3: -1.21,
  quarterOf4: 0.16,
  quarterOf6: -0.91,
  quarterOf8: -0.39,
  eighthOf1: 0.22,
  eighthOf2: -2.78,
  meter3: -0.6,
  meter2: -1.49,
  meter6: -0.83,
  meter12: -1.73,
} as const;

export type TempoFeature = keyof typeof TEMPO_WEIGHTS;
