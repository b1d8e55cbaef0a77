import { expect, test } from "vitest";
import { readEdits } from "../../../cli/page/read-edit.js";
import { PulgarError } from "../../../src/base/errors.js";
import type { Edit } from "../../../src/sheet/edit.js";

const at = { bar: 1, tick: 0, string: 5 };
/** One of each kind: a kind added to Edit without a row here does not compile. */
const EVERY: { [K in Edit["kind"]]: Extract<Edit, { kind: K }> } = {
  "move-string": { kind: "move-string", at, string: 4 },
  "set-fret": { kind: "set-fret", at: { ...at, grace: true }, fret: 3 },
  "set-finger": { kind: "set-finger", at, finger: "none" },
  "set-left-finger": { kind: "set-left-finger", at, leftFinger: 4 },
  "set-marks": { kind: "set-marks", at, marks: ["slide", "let-ring"] },
  "move-place": { kind: "move-place", at, bar: 2, tick: 12 },
  "set-length": { kind: "set-length", at, lengthTicks: 24 },
  "delete-note": { kind: "delete-note", at },
  "accept-alternative": { kind: "accept-alternative", at, alternativeIdx: 0 },
  "settle-note": { kind: "settle-note", at },
  "release-note": { kind: "release-note", at },
  "add-note": { kind: "add-note", note: { ...at, fret: 2, lengthTicks: 12, finger: "p" } },
  "settle-bar": { kind: "settle-bar", bar: 3 },
  "rename-chord": { kind: "rename-chord", bar: 1, beat: 2.5, symbol: "G/A" },
  "delete-chord": { kind: "delete-chord", bar: 1, beat: 1 },
  "set-grid": {
    kind: "set-grid",
    firstBeatSec: 0.5,
    tempoBpm: 96,
    meter: { beats: 6, unit: 8 },
    feel: "swing",
    swingRatio: 2,
  },
  "set-title": { kind: "set-title", title: "Evening" },
  "set-composer": { kind: "set-composer", composer: "" },
  "set-mode": { kind: "set-mode", tonic: "A", mode: "mixolydian" },
};

for (const [kind, edit] of Object.entries(EVERY))
  test(`review edits: ${kind} comes through as it was sent`, () => {
    expect(readEdits({ version: "a-1", edits: [edit] })).toEqual({ version: "a-1", edits: [edit] });
  });

for (const [what, body, path] of [
  ["nothing", undefined, "request"],
  ["a text", "x", "request"],
  ["no version", { edits: [EVERY["settle-note"]] }, "version"],
  ["no edits", { version: "a", edits: [] }, "edits"],
  ["an unknown kind", { version: "a", edits: [{ kind: "run" }] }, "edits.0.kind"],
  ["a field too many", { version: "a", edits: [{ ...EVERY["settle-note"], by: "machine" }] }, "edits.0"],
  [
    "a place that is no number",
    { version: "a", edits: [{ kind: "settle-note", at: { ...at, tick: "0" } }] },
    "edits.0.at.tick",
  ],
  ["half a string", { version: "a", edits: [{ kind: "move-string", at, string: 1.5 }] }, "edits.0.string"],
  [
    "an unknown mark",
    { version: "a", edits: [{ kind: "set-marks", at, marks: ["bend"] }] },
    "edits.0.marks.0",
  ],
  ["a tempo of nothing", { version: "a", edits: [{ kind: "set-grid", tempoBpm: null }] }, "edits.0.tempoBpm"],
  [
    "an endless title",
    { version: "a", edits: [{ kind: "set-title", title: "x".repeat(501) }] },
    "edits.0.title",
  ],
  [
    "too many at once",
    { version: "a", edits: Array.from({ length: 2001 }, () => EVERY["settle-note"]) },
    "edits",
  ],
] as const)
  test(`review edits: ${what} is refused by name`, () => {
    expect(() => readEdits(body)).toThrow(PulgarError);
    try {
      readEdits(body);
    } catch (e) {
      expect((e as PulgarError).code).toBe("bad-usage");
      expect((e as PulgarError).message.startsWith(`${path}:`), (e as PulgarError).message).toBe(true);
    }
  });
