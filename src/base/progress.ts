/** Told as work goes on. `share` is 0…1 of the named stage. Handed in by the caller; never required. */
export type OnProgress = (stage: string, share: number) => void;
