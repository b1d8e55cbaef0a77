/** 24 ticks a beat, whatever note the beat is: thirty-seconds of a quarter beat and triplets stay whole. */
export const TICKS_PER_BEAT = 24;
