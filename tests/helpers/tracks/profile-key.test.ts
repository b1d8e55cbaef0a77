import { expect, test } from "vitest";
import { pitchClassName } from "../../../src/theory/pitch.js";
import { KRUMHANSL_KESSLER, TEMPERLEY_KOSTKA_PAYNE } from "./key-profile-table.js";
import { profileKey } from "./profile-key.js";

test("tracks profile key: the chroma of a profile is heard as its own key, by both tables (by definition)", () => {
  for (const profiles of [KRUMHANSL_KESSLER, TEMPERLEY_KOSTKA_PAYNE])
    for (const isMinor of [false, true])
      for (let tonicPc = 0; tonicPc < 12; tonicPc++) {
        const own = isMinor ? profiles.minor : profiles.major;
        const chroma = own.map((_, pc) => 3 * (own[(pc - tonicPc + 12) % 12] ?? 0) + 1);
        expect(profileKey(chroma, profiles)).toEqual({ tonic: pitchClassName(tonicPc), isMinor });
      }
});

test("tracks profile key: the notes of a C major triad alone are C major by Krumhansl & Kessler (by hand: 6.35, 4.38 and 5.19 are its highest)", () => {
  const chroma = [1, 0, 0, 0, 1, 0, 0, 1, 0, 0, 0, 0];
  expect(profileKey(chroma, KRUMHANSL_KESSLER)).toEqual({ tonic: "C", isMinor: false });
});
