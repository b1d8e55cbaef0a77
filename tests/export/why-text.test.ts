import { expect, test } from "vitest";
import { withSigns } from "../../src/export/ink.js";
import { barList, whySentences } from "../../src/export/why-text.js";
import { studyNamed } from "../helpers/takes/studies.js";
import { toSheet } from "../helpers/takes/to-sheet.js";

test("why-text: mixolydian over a held A names the lowered seventh, the bars it sounds in and the note that never does (counted by hand)", () => {
  const text = whySentences(toSheet(studyNamed("mixolydian-over-a"))).join(" ");
  expect(text).toContain("Every chord stands over A");
  expect(text).toContain("The seventh degree decides: it is G (b7), where A ionian would have G#");
  expect(text).toContain("bars 2, 6 and 7");
  expect(text).toContain("G# never does");
  expect(text).toContain("D major");
});

test("why-text: where the deciding degree is missing both readings are named", () => {
  const sheet = toSheet(studyNamed("half-open-door"));
  const text = whySentences(sheet).join(" ");
  const open = sheet.mode?.undecided[0];
  expect(open).toBeDefined();
  for (const mode of open?.between ?? []) expect(text).toContain(mode);
  expect(text).toContain("never sounds");
  expect(text).not.toContain("degree decides:");
});

for (const [bars, said] of [
  [[3], "3"],
  [[1, 2], "1 and 2"],
  [[1, 2, 3], "1–3"],
  [[8, 1, 2, 3, 10, 9, 5], "1–3, 5 and 8–10"],
] as const)
  test(`why-text: bars ${bars.join(" ")} are read as ${said}`, () => expect(barList(bars)).toBe(said));

for (const [plain, printed] of [
  ["F#m7b5/C#", "F♯m7♭5/C♯"],
  ["Bb", "B♭"],
  ["Bbmaj7", "B♭maj7"],
  ["Ebadd9", "E♭add9"],
  ["it is G (b7)", "it is G (♭7)"],
  ["A Big Bad Band by Abba", "A Big Bad Band by Abba"],
  ["C7#9", "C7♯9"],
] as const)
  test(`ink: "${plain}" is printed "${printed}" (by hand)`, () => expect(withSigns(plain)).toBe(printed));
