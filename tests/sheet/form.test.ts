import { expect, test } from "vitest";
import { findForm, letter } from "../../src/sheet/form.js";

// Forms as teachers write them: common practice, no published source; worked by hand.
const labels = (groups: number[]): string =>
  findForm(groups)
    .form.map((p) => `${p.label}${p.bars.length}`)
    .join(" ");

for (const [title, groups, want] of [
  ["A A B A of four bars", [0, 1, 2, 3, 0, 1, 2, 3, 4, 5, 6, 7, 0, 1, 2, 3], "A4 A4 B4 A4"],
  ["A A B A with a last bar of its own", [0, 1, 2, 3, 0, 1, 2, 3, 4, 5, 6, 7, 0, 1, 2, 8], "A4 A4 B4 A4"],
  ["A B A of two bars with a final chord", [0, 1, 2, 3, 0, 4], "A2 B2 A2"],
  ["A A B A of two bars with a final chord", [0, 1, 0, 1, 2, 3, 0, 4], "A2 A2 B2 A2"],
  [
    "two bars that come back within sixteen are no sections",
    [0, 1, 2, 3, 0, 1, 4, 5, 0, 1, 2, 3, 0, 1, 4, 6],
    "A8 A8",
  ],
  [
    "a bar that differs before a last bar of its own makes four bars another music",
    [0, 1, 2, 0, 0, 1, 3, 4],
    "A8",
  ],
  ["nothing comes back", [0, 1, 2, 3, 4, 5, 6, 7], "A8"],
  ["no bars", [], ""],
] as const)
  test(`form: ${title}`, () => expect(labels([...groups])).toBe(want));

test("form: a repeat with first and second endings", () => {
  const { repeats } = findForm([0, 1, 2, 3, 0, 1, 2, 4, 5, 6, 7, 8]);
  expect(repeats).toEqual([
    {
      fromBar: 1,
      toBar: 4,
      times: 2,
      endings: [
        { times: [1], bars: [4] },
        { times: [2], bars: [8] },
      ],
    },
  ]);
});

test("form: letters go on after Z", () =>
  expect([letter(0), letter(25), letter(26)]).toEqual(["A", "Z", "AA"]));
