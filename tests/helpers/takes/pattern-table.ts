/** Picking-hand patterns of one bar (or of half a bar, played twice), written step by step.
 * p the chord's bass, P the other bass string, i m a strings 3 2 1, M A a melody note on string 2 or 1, "." nothing;
 * letters together are plucked together. `stepTicks` at 24 a beat. Common practice, no published source. */
export type PatternRow = {
  name: string;
  beats: number;
  unit: number;
  stepTicks: number;
  steps: string;
  /** Off-beats fall on tick 12 only, so it can swing. */
  swings?: boolean;
  /** The row is half a bar of four beats and comes twice. */
  halfBar?: boolean;
};

export const PATTERNS: readonly PatternRow[] = [
  { name: "held-bass", beats: 4, unit: 4, stepTicks: 12, steps: "p i m a m i m i", swings: true },
  { name: "forward-eight", beats: 4, unit: 4, stepTicks: 12, steps: "p i m a P i m a" },
  { name: "thumb-alternates", beats: 4, unit: 4, stepTicks: 12, steps: "pa . P i p m P i", swings: true },
  { name: "pinch-and-roll", beats: 4, unit: 4, stepTicks: 12, steps: "pa i m i Pm i a i" },
  { name: "thumb-off-beat", beats: 4, unit: 4, stepTicks: 12, steps: "p m P i p a P m", swings: true },
  { name: "inside-out", beats: 4, unit: 4, stepTicks: 12, steps: "p m i a i m P i" },
  { name: "blocks-on-beats", beats: 4, unit: 4, stepTicks: 24, steps: "p ima P ima" },
  {
    name: "block-off-beats",
    beats: 4,
    unit: 4,
    stepTicks: 12,
    steps: "p ima . ima P ima . ima",
    swings: true,
  },
  { name: "melody-over-thumb", beats: 4, unit: 4, stepTicks: 12, steps: "pA . Pi M p A Pi .", swings: true },
  { name: "melody-quarter", beats: 4, unit: 4, stepTicks: 12, steps: "pA i M i PA i m i" },
  { name: "sixteenth-arpeggio", beats: 4, unit: 4, stepTicks: 6, steps: "p i m a m i m i P i m a m i m i" },
  { name: "sixteenth-mixed", beats: 4, unit: 4, stepTicks: 6, steps: "pa . i m . i m . P i m a . m i ." },
  { name: "triplet-roll", beats: 4, unit: 4, stepTicks: 8, steps: "p i m a m i P i m a m i" },
  { name: "triplet-forward", beats: 4, unit: 4, stepTicks: 8, steps: "p i m P i m p i m P i m" },
  { name: "chord-then-triplet", beats: 2, unit: 4, stepTicks: 8, steps: "pim . . P i m", halfBar: true },
  { name: "thumb-triplets", beats: 2, unit: 4, stepTicks: 8, steps: "p i m P i m", halfBar: true },
  { name: "forward-sixteenths", beats: 2, unit: 4, stepTicks: 6, steps: "p i m a p i m a", halfBar: true },
  { name: "backward-sixteenths", beats: 2, unit: 4, stepTicks: 6, steps: "p a m i P a m i", halfBar: true },
  { name: "two-four-roll", beats: 2, unit: 4, stepTicks: 12, steps: "p i ma i", swings: true },
  { name: "two-four-sixteenths", beats: 2, unit: 4, stepTicks: 6, steps: "p i m i a i m i" },
  { name: "waltz-bass-chord", beats: 3, unit: 4, stepTicks: 24, steps: "p ima ima" },
  { name: "waltz-arpeggio", beats: 3, unit: 4, stepTicks: 12, steps: "p i m a m i" },
  { name: "waltz-melody", beats: 3, unit: 4, stepTicks: 12, steps: "pA i m i M i" },
  { name: "waltz-thumb", beats: 3, unit: 4, stepTicks: 12, steps: "pa i P m i m", swings: true },
  { name: "six-eight-arch", beats: 6, unit: 8, stepTicks: 24, steps: "p i m a m i" },
  { name: "six-eight-pinch", beats: 6, unit: 8, stepTicks: 24, steps: "pa i m P i m" },
  { name: "six-eight-sixteenths", beats: 6, unit: 8, stepTicks: 12, steps: "p i m a m i P i m a m i" },
  { name: "six-eight-lilt", beats: 6, unit: 8, stepTicks: 24, steps: "p . ma P . ma" },
  { name: "six-eight-melody", beats: 6, unit: 8, stepTicks: 24, steps: "pA i M P i A" },
  { name: "twelve-eight-arch", beats: 12, unit: 8, stepTicks: 24, steps: "p i m a m i P i m a m i" },
  { name: "twelve-eight-shuffle", beats: 12, unit: 8, stepTicks: 24, steps: "pa . i P . m pa . i P m i" },
];
