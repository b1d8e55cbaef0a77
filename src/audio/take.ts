/** A recording as the rest of pulgar sees it: one channel (the mean of all), its own sample rate.
 * @property samples shape (n), −1…1 (may exceed for float sources), no NaN
 * @property sampleRateHz 8000…192000 */
export type Take = { samples: Float32Array; sampleRateHz: number };
