// Truth: written by hand, in the words a teacher would use; common practice, no published source.
import { expect, test } from "vitest";
import { departureNote } from "../../src/sheet/departure.js";
import type { PatternHit } from "../../src/sheet/sheet.js";

const STRINGS = { p: 5, i: 3, m: 2, a: 1 } as const;

/** "1p 1.5i": a hit a word. */
const hitsOf = (text: string): PatternHit[] =>
  text
    .split(" ")
    .filter((word) => word !== "")
    .map((word) => {
      const finger = word.slice(-1) as keyof typeof STRINGS;
      return { beat: Number(word.slice(0, -1)), finger, string: STRINGS[finger] };
    });

const ROLL = "1p 1.5i 2m 2.5a 3m 3.5i 4m 4.5i";
const LATE = "3.5i 4m 4.5i";

test.each([
  ["nothing is played", ROLL, "", "the pattern rests"],
  ["one hit fails", "2.5a", "", "without a on beat 2+1/2"],
  ["one more", "", "4p", "with p on beat 4 besides"],
  ["another finger at the same moment", "4.5i", "4.5m", "m for i on beat 4+1/2"],
  ["a plucked chord ends the bar", LATE, "3p 3i 3a", "one chord on beat 3"],
  ["a whole bar is one chord", "1.5i 2m 2.5a 3m 3.5i 4m 4.5i", "1i 1m 1a", "one chord"],
  ["the thumb leads on", "4m 4.5i", "4p 4.5p", "the thumb walks from beat 4 on"],
  ["it stops", `3m ${LATE}`, "", "rests from beat 3 on"],
  ["too much for a list", LATE, "3.25m 3.75a 4.25m", "another figure from beat 3+1/4 on"],
  ["all of it otherwise", "1p 1.5i 2m", "1.25a 2.25m 3.25a", "another figure"],
])("departure: %s", (_what, missing, added, want) => {
  const hits = hitsOf(ROLL);
  const gone = new Set(missing.split(" "));
  const lacked = hits.filter((h) => gone.has(`${h.beat}${h.finger}`));
  expect(lacked).toHaveLength(missing.split(" ").filter((word) => word !== "").length);
  expect(departureNote(lacked, hitsOf(added), hits)).toBe(want);
});
