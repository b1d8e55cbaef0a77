/** What every practice command says before it writes sound that will be repeated and played loud. Plain care, no medical advice. */
export const PRACTICE_CAUTION = [
  "Keep the volume low enough to talk over, above all on headphones.",
  "Rest your hands for a few minutes in every half hour, and stop when a hand or arm hurts, tingles or goes numb.",
  "Raise the tempo only while a passage stays easy. If pain comes back, ask your teacher or a clinician.",
] as const;
