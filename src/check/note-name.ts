const NAMES = ["C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"] as const;

/** Note name with octave, middle C (MIDI 60) being C4: ISO 16 (A4 = 440 Hz) and common practice. */
export const noteName = (midi: number): string => `${pitchName(midi)}${Math.floor(midi / 12) - 1}`;

/** Name of a pitch class as guitarists mostly spell it. */
export const pitchName = (midi: number): string => NAMES[((midi % 12) + 12) % 12] as string;
