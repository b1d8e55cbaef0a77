/** What speaks for an onset having been played, where its bar comes again: features of pool.ts and their weights in nats.
 * `share`: log odds of the siblings having it; `unknown`: how far they are from having heard anything there; `overtone`: a note
 * an octave, a twelfth or two octaves lower begins with it. Origin: fitted by `npm run bench -- pool-fit` (logistic regression with
 * a ridge, on composed hard takes as the listener hears them). To be fitted anew when the listener or its calibration changes. */
export const POOL_WEIGHTS = {
  one: -4.87,
  own: 1.66,
  share: 3.42,
  unknown: 2.31,
  overtone: -0.53,
  overtoneUnknown: 1.02,
} as const;

export type PoolFeature = keyof typeof POOL_WEIGHTS;
