/** @property openMidi open strings 6 → 1 as MIDI numbers, without capo @property aliases other names in use */
export type Tuning = { name: string; openMidi: readonly number[]; aliases: readonly string[] };

// Open strings 6 → 1 as MIDI numbers. Origin: the note names at the right; common practice, no published source.
export const TUNINGS: readonly Tuning[] = [
  { name: "standard", openMidi: [40, 45, 50, 55, 59, 64], aliases: ["eadgbe"] }, //          E2 A2 D3 G3 B3 E4
  { name: "drop-d", openMidi: [38, 45, 50, 55, 59, 64], aliases: ["dadgbe"] }, //            D2 A2 D3 G3 B3 E4
  { name: "double-drop-d", openMidi: [38, 45, 50, 55, 59, 62], aliases: ["dadgbd"] }, //     D2 A2 D3 G3 B3 D4
  { name: "dadgad", openMidi: [38, 45, 50, 55, 57, 62], aliases: ["modal-d", "dsus4"] }, //  D2 A2 D3 G3 A3 D4
  { name: "open-d", openMidi: [38, 45, 50, 54, 57, 62], aliases: ["dadf#ad"] }, //           D2 A2 D3 F#3 A3 D4
  { name: "open-d-minor", openMidi: [38, 45, 50, 53, 57, 62], aliases: ["dadfad"] }, //      D2 A2 D3 F3 A3 D4
  { name: "open-g", openMidi: [38, 43, 50, 55, 59, 62], aliases: ["dgdgbd"] }, //            D2 G2 D3 G3 B3 D4
  { name: "open-g-minor", openMidi: [38, 43, 50, 55, 58, 62], aliases: ["dgdgbbd"] }, //     D2 G2 D3 G3 Bb3 D4
  { name: "open-c", openMidi: [36, 43, 48, 55, 60, 64], aliases: ["cgcgce"] }, //            C2 G2 C3 G3 C4 E4
  { name: "open-e", openMidi: [40, 47, 52, 56, 59, 64], aliases: ["ebeg#be"] }, //           E2 B2 E3 G#3 B3 E4
  { name: "open-a", openMidi: [40, 45, 52, 57, 61, 64], aliases: ["eaeac#e"] }, //           E2 A2 E3 A3 C#4 E4
  { name: "drop-c", openMidi: [36, 43, 48, 53, 57, 62], aliases: ["cgcfad"] }, //            C2 G2 C3 F3 A3 D4
  { name: "half-step-down", openMidi: [39, 44, 49, 54, 58, 63], aliases: ["eb-standard"] }, // Eb2 Ab2 Db3 Gb3 Bb3 Eb4
  { name: "whole-step-down", openMidi: [38, 43, 48, 53, 57, 62], aliases: ["d-standard"] }, // D2 G2 C3 F3 A3 D4
];
