/** The JSON object `mode` of a sheet → ModeGuess. */
import type { ModeGuess } from "../harmony/harmony.js";
import { type At, either, listOf, member, numberOf, oneOf, optional, refuse, textOf } from "./door.js";
import { MODE_NAMES } from "./mode-name.js";

/** @throws PulgarError "bad-sheet" naming the path that is wrong */
export function modeOf(at: At): ModeGuess {
  const modeName = (x: At): ModeGuess["mode"] => oneOf(x, MODE_NAMES);
  const share = (x: At): number => numberOf(x, 0, 1);
  const texts = (x: At): string[] => listOf(x, 1000, textOf);
  return {
    tonic: textOf(member(at, "tonic")),
    mode: modeName(member(at, "mode")),
    confidence: share(member(at, "confidence")),
    candidates: either(
      member(at, "candidates"),
      (list) =>
        listOf(list, 1000, (c) => ({
          tonic: textOf(member(c, "tonic")),
          mode: modeName(member(c, "mode")),
          probability: share(member(c, "probability")),
        })),
      [],
    ),
    undecided: either(
      member(at, "undecided"),
      (list) =>
        listOf(list, 100, (u) => {
          const between = listOf(member(u, "between"), 2, modeName);
          const [one, other] = between;
          if (!one || !other) return refuse(member(u, "between"), "two modes");
          return {
            between: [one, other] as [typeof one, typeof other],
            missingDegree: textOf(member(u, "missingDegree")),
          };
        }),
      [],
    ),
    evidence: either(member(at, "evidence"), texts, []),
    ...optional(at, "usage", (x) => oneOf(x, ["pentatonic", "blues"] as const)),
    parentScale: either(member(at, "parentScale"), textOf, ""),
    improvise: either(member(at, "improvise"), texts, []),
  };
}
