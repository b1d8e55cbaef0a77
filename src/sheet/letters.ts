/** Picking letters under a place, given to its notes.
 * In: letters stacked from the highest string down, notes likewise. Out: a letter or none for each note.
 * As many as notes: one each. Otherwise a hand has added or removed a note above: letters keep their order and go where the hand usually plucks
 * (p on 6-5-4, i on 3, m on 2, a on 1: common practice, no published source). */
import type { PickFinger } from "../hands/fretted.js";

const HOME: Record<PickFinger, number> = { p: 5, i: 3, m: 2, a: 1 };

export const isPickFinger = (text: string): text is PickFinger => /^[pima]$/.test(text);

/** How unusual a letter is on a string; the thumb is at home on 6, 5 and 4, rather lower than higher. */
const reachCost = (letter: PickFinger, string: number): number =>
  letter === "p" ? Math.max(0, 4 - string) + 0.01 * (6 - string) : Math.abs(HOME[letter] - string);

/** @param letters "." or p i m a, top first @param strings of the notes, top first
 * @returns one entry a note; letters that find no note are dropped */
export function letterOfNotes(
  letters: readonly string[],
  strings: readonly number[],
): (PickFinger | undefined)[] {
  const pick = (letter: string | undefined): PickFinger | undefined =>
    letter !== undefined && isPickFinger(letter) ? letter : undefined;
  if (letters.length === strings.length) return letters.map(pick);
  const named = letters.map(pick).filter((letter) => letter !== undefined);
  const memo = new Map<string, { cost: number; picks: (PickFinger | undefined)[] }>();
  const best = (l: number, s: number): { cost: number; picks: (PickFinger | undefined)[] } => {
    const string = strings[s];
    if (string === undefined) return { cost: 100 * (named.length - l), picks: [] };
    const key = `${l} ${s}`;
    const known = memo.get(key);
    if (known) return known;
    const without = best(l, s + 1);
    let found = { cost: without.cost + 10, picks: [undefined as PickFinger | undefined, ...without.picks] };
    const letter = named[l];
    if (letter !== undefined) {
      const rest = best(l + 1, s + 1);
      const cost = rest.cost + reachCost(letter, string);
      if (cost <= found.cost) found = { cost, picks: [letter, ...rest.picks] };
      const dropped = best(l + 1, s);
      if (dropped.cost + 100 < found.cost) found = { cost: dropped.cost + 100, picks: dropped.picks };
    }
    memo.set(key, found);
    return found;
  };
  return best(0, 0).picks;
}
