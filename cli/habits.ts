/** What a teacher's corrections taught the fretboard search: a file in the sheets' folder, which may be deleted at any time.
 * Each sheet has its own entry and an entry is replaced, not added to: saving twice teaches nothing twice. */
import { join } from "node:path";
import { z } from "zod";
import { PulgarError } from "../src/base/errors.js";
import { HAND_WEIGHTS, type HandWeights, nudgeWeights } from "../src/hands/cost-table.js";
import { placeCorrections, type SheetCorrection } from "../src/sheet/corrections.js";
import type { Sheet } from "../src/sheet/sheet.js";
import { exists, readBytes, writeWhole } from "./files.js";

export const HABITS_FILE = "pulgar.hands.json";
const MOST_OF_A_SHEET = 200; // corrections kept of one sheet, the latest

const place = z.object({
  string: z.number().int().min(1).max(6),
  fret: z.number().int().min(0).max(36),
  leftFinger: z.union([z.literal(0), z.literal(1), z.literal(2), z.literal(3), z.literal(4)]).optional(),
});
const habits = z.object({
  format: z.literal("pulgar.hands"),
  version: z.literal(1),
  sheets: z.record(z.string(), z.array(z.object({ at: z.string().max(40), from: place, to: place }))),
});
type Habits = z.infer<typeof habits>;

/** @property learn keeps what a hand changed between two states of a sheet, says how much that is
 * @property weights of the search, undefined where nothing was learnt */
export type OpenHabits = {
  path: string;
  learn: (sheetName: string, before: Sheet, after: Sheet) => Promise<number>;
  weights: () => Promise<HandWeights | undefined>;
  /** Drops what a sheet taught. */
  forget: (sheetName: string) => Promise<void>;
};

/** The habits of a folder. @param isOff neither read nor written */
export function openHabits(folder: string, isOff: boolean): OpenHabits {
  const path = join(folder, HABITS_FILE);
  const write = (all: Habits): Promise<void> =>
    writeWhole(path, `${JSON.stringify(all, null, 1)}\n`, { force: true });
  return {
    path,
    learn: async (sheetName, before, after) => {
      const found = isOff ? [] : placeCorrections(before, after);
      if (isOff || (found.length === 0 && !(await exists(path)))) return 0;
      const known = await readHabits(path);
      const entry = known.sheets[sheetName] ?? [];
      const next = latest(entry, found, after);
      if (JSON.stringify(next) === JSON.stringify(entry)) return 0;
      const sheets = { ...known.sheets, [sheetName]: next };
      await write({ ...known, sheets });
      return found.length;
    },
    weights: async () => {
      if (isOff || !(await exists(path))) return undefined;
      const all = Object.values((await readHabits(path)).sheets).flat();
      return all.length === 0 ? undefined : nudgeWeights(HAND_WEIGHTS, all as SheetCorrection[]);
    },
    forget: async (sheetName) => {
      if (isOff || !(await exists(path))) return;
      const { sheets, ...head } = await readHabits(path);
      const { [sheetName]: dropped, ...others } = sheets;
      if (dropped) await write({ ...head, sheets: others });
    },
  };
}

/** One correction a note, the newest; one that was taken back (the note is the machine's again, or gone) is dropped. */
function latest(
  entry: Habits["sheets"][string],
  found: readonly SheetCorrection[],
  after: Sheet,
): Habits["sheets"][string] {
  const byHand = new Set(
    after.notes.filter((n) => n.by === "hand").map((n) => `${n.bar}:${n.tick}:${n.midi}`),
  );
  const fresh = new Set(found.map((c) => c.at));
  const kept = entry.filter((c) => !fresh.has(c.at) && byHand.has(c.at.replace(/g$/, "")));
  return [...kept, ...found].slice(-MOST_OF_A_SHEET);
}

/** @throws PulgarError "bad-json" for a file that is there and is not ours */
async function readHabits(path: string): Promise<Habits> {
  if (!(await exists(path))) return { format: "pulgar.hands", version: 1, sheets: {} };
  try {
    return habits.parse(JSON.parse(new TextDecoder().decode(await readBytes(path))));
  } catch (e) {
    throw new PulgarError(
      "bad-json",
      `${path}: not what pulgar writes there`,
      "Delete it: it only holds what your corrections taught. Or go without it by --no-habits.",
      e,
    );
  }
}
