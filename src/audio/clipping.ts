/** Counts clipped samples of a recording that comes piece by piece: runs at full scale, which unclipped music does not have.
 * In: pieces of samples in order. Out: a share. Cannot: see clipping that was turned down afterwards. */

const CLIPPING_DEFAULTS = {
  level: 0.999, // of full scale: a 16-bit recorder's largest value is 0.99997
  run: 3, // three full-scale samples in a row do not happen in unclipped music
} as const;

/** @property add one piece, −1…1 @property share clipped samples of all that were added, 0…1 */
export type ClipCounter = { add: (samples: Float32Array) => void; share: () => number };

export function makeClipCounter(): ClipCounter {
  let total = 0;
  let clipped = 0;
  let run = 0;
  return {
    add(samples) {
      for (let i = 0; i < samples.length; i++) {
        if (Math.abs(samples[i] ?? 0) >= CLIPPING_DEFAULTS.level) {
          run++;
          if (run >= CLIPPING_DEFAULTS.run) clipped++;
        } else run = 0;
      }
      total += samples.length;
    },
    share: () => (total > 0 ? clipped / total : 0),
  };
}
