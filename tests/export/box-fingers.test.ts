import fc from "fast-check";
import { expect, test } from "vitest";
import { type BoxPlace, canBeHeld, fingersOfBox } from "../../src/export/box-fingers.js";
import type { LeftFinger } from "../../src/hands/fretted.js";

/** "x32010" and "-32-1-", string 6 first. */
function grip(frets: string, fingers?: string, isHand = false): Map<number, BoxPlace> {
  const places = new Map<number, BoxPlace>();
  for (const [k, sign] of [...frets].entries()) {
    if (sign === "x") continue;
    const said = fingers?.[k];
    const finger = said === undefined || said === "-" ? undefined : (Number(said) as LeftFinger);
    places.set(6 - k, { fret: Number(sign), finger, isHand });
  }
  return places;
}
const shown = (places: Map<number, BoxPlace>): string => {
  const fingers = fingersOfBox(places);
  return [6, 5, 4, 3, 2, 1].map((s) => fingers.get(s) ?? "-").join("");
};

// Fingerings as guitar methods teach them; from memory of common practice, no published source.
for (const [name, frets, fingers] of [
  ["C", "x32010", "-32-1-"],
  ["G", "320003", "32---4"],
  ["C/G", "332010", "342-1-"],
  ["Am", "x02210", "--231-"],
  ["Em", "022000", "-23---"],
  ["D7", "xx0212", "---213"],
  ["D/F#", "2x0232", "1--243"],
  ["F", "133211", "134211"],
  ["F without its middle", "1xx211", "1--211"],
  ["Bm", "x24432", "-13421"],
  ["G, thumb and little finger", "3xx003", "3----4"],
] as const)
  test(`box-fingers: ${name} ${frets} without fingers is dealt ${fingers}`, () =>
    expect(shown(grip(frets))).toBe(fingers));

test("box-fingers: the sheet's own fingers stand where they make a grip", () => {
  expect(shown(grip("x02220", "--123-"))).toBe("--123-");
  expect(shown(grip("xx0211", "---211"))).toBe("---211");
});

for (const [what, frets, fingers] of [
  ["a barre over sounding open strings", "3xx003", "4----4"],
  ["a second finger on the barre's fret", "1xx211", "1--312"],
  ["one finger at two frets", "xx0232", "---122"],
  ["a higher finger behind a lower one", "x32010", "-12-3-"],
  ["a flat ring finger where fingers are left", "332010", "332-1-"],
] as const)
  test(`box-fingers: ${what} cannot be held, and is fingered anew unless a hand wrote it`, () => {
    expect(canBeHeld(grip(frets, fingers))).toBe(false);
    expect(shown(grip(frets, fingers))).not.toBe(fingers);
    expect(shown(grip(frets, fingers, true))).toBe(fingers);
  });

test("box-fingers: what is dealt to any grip of four places can be held", () => {
  fc.assert(
    fc.property(fc.array(fc.integer({ min: -1, max: 4 }), { minLength: 6, maxLength: 6 }), (frets) => {
      const text = frets.map((f) => (f < 0 ? "x" : String(f))).join("");
      const places = grip(text);
      if ([...places.values()].filter((p) => p.fret > 0).length > 4) return;
      const fingers = fingersOfBox(places);
      const dealt = new Map([...places].map(([s, p]) => [s, { ...p, finger: fingers.get(s) }]));
      expect(canBeHeld(dealt), text).toBe(true);
    }),
    { numRuns: 500, seed: 3 },
  );
});
