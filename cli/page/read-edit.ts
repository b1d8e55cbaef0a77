/** A request's body becomes edits, or it is refused with the path of what is wrong. Values out of the music's range are applyEdit's to refuse. */
import { z } from "zod";
import { PulgarError } from "../../src/base/errors.js";
import type { Edit } from "../../src/sheet/edit.js";
import { MODE_NAMES } from "../../src/sheet/mode-name.js";

const whole = z.number().int().min(-1).max(1_000_000);
const at = z.strictObject({ bar: whole, tick: whole, string: whole, grace: z.boolean().optional() });
const finger = z.enum(["p", "i", "m", "a"]);
const leftFinger = z.union([z.literal(0), z.literal(1), z.literal(2), z.literal(3), z.literal(4)]);
const mark = z.enum(["hammer-on", "pull-off", "slide", "grace", "tie", "let-ring", "dead", "harmonic"]);
const sec = z
  .number()
  .min(-60)
  .max(24 * 3600);

const edit = z.discriminatedUnion("kind", [
  z.strictObject({ kind: z.literal("move-string"), at, string: whole }),
  z.strictObject({ kind: z.literal("set-fret"), at, fret: whole }),
  z.strictObject({ kind: z.literal("set-finger"), at, finger: z.union([finger, z.literal("none")]) }),
  z.strictObject({
    kind: z.literal("set-left-finger"),
    at,
    leftFinger: z.union([leftFinger, z.literal("none")]),
  }),
  z.strictObject({ kind: z.literal("set-marks"), at, marks: z.array(mark).max(8) }),
  z.strictObject({ kind: z.literal("move-place"), at, bar: whole, tick: whole }),
  z.strictObject({ kind: z.literal("set-length"), at, lengthTicks: whole }),
  z.strictObject({ kind: z.literal("delete-note"), at }),
  z.strictObject({ kind: z.literal("accept-alternative"), at, alternativeIdx: whole }),
  z.strictObject({ kind: z.literal("settle-note"), at }),
  z.strictObject({ kind: z.literal("release-note"), at }),
  z.strictObject({
    kind: z.literal("add-note"),
    note: z.strictObject({
      ...at.shape,
      fret: whole,
      lengthTicks: whole.optional(),
      finger: finger.optional(),
    }),
  }),
  z.strictObject({ kind: z.literal("settle-bar"), bar: whole }),
  z.strictObject({
    kind: z.literal("rename-chord"),
    bar: whole,
    beat: z.number(),
    symbol: z.string().max(100),
  }),
  z.strictObject({ kind: z.literal("delete-chord"), bar: whole, beat: z.number() }),
  z.strictObject({
    kind: z.literal("set-grid"),
    firstBeatSec: sec.optional(),
    tempoBpm: z.number().min(10).max(600).optional(),
    meter: z
      .strictObject({ beats: z.number().int().min(1).max(32), unit: z.number().int().min(1).max(32) })
      .optional(),
    feel: z.enum(["straight", "swing"]).optional(),
    swingRatio: z.number().min(1).max(5).optional(),
  }),
  z.strictObject({ kind: z.literal("set-title"), title: z.string().max(500) }),
  z.strictObject({ kind: z.literal("set-composer"), composer: z.string().max(500) }),
  z.strictObject({ kind: z.literal("set-mode"), tonic: z.string().max(3), mode: z.enum(MODE_NAMES) }),
]);

const mend = z.strictObject({ version: z.string().max(60), edits: z.array(edit).min(1).max(2000) });

/** @throws PulgarError "bad-usage" naming the first thing wrong */
export function readEdits(body: unknown): { version: string; edits: Edit[] } {
  const read = mend.safeParse(body);
  if (read.success) return read.data as { version: string; edits: Edit[] };
  const first = read.error.issues[0];
  throw new PulgarError(
    "bad-usage",
    `${first?.path.join(".") || "request"}: ${first?.message ?? "not a mend"}`,
    "Reload the page.",
  );
}
