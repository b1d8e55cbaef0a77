/** A recording as the rest of pulgar sees it: one channel (the mean of all), its own sample rate.
 * @property samples shape (n), −1…1 (may exceed for float sources), no NaN
 * @property sampleRateHz 8000…192000 */
export type Take = { samples: Float32Array; sampleRateHz: number; recorded?: Recorded };

/** What the file held, for a take that was brought to another rate while it was read.
 * @property clippedShare samples in runs at full scale, 0…1: after resampling they can no longer be counted */
type Recorded = { sampleRateHz: number; clippedShare: number };
