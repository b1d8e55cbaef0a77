/** Undo and redo without limit, kept in a file beside the sheet so that a server that was killed has lost no step.
 * The file is a line of JSON a step: first the sheet as it was, then what each step took out and put in, so that it stays small and is only ever
 * added to. It is not the music: one that cannot be read is begun anew. */
import { appendFile, readFile, stat } from "node:fs/promises";
import { basename, dirname, join } from "node:path";
import type { Sheet } from "../../src/sheet/sheet.js";
import { writeWhole } from "../files.js";
import { changesBetween, type DocChange, sameJson, withChanges } from "./doc-changes.js";
import type { SheetFiles } from "./sheet-files.js";

type Doc = Record<string, unknown>;
type Step = { label: string; changes: DocChange[] };
type Line = Step | { way: "undo" | "redo" };

/** How a sheet becomes a document and back; the document is checked when it is read. */
export type DocCodec = { toJson: (sheet: Sheet) => object; fromJson: (doc: unknown) => Sheet };

export type History = {
  /** Labels of what would be undone and redone next, and how many there are. */
  undo: () => string | null;
  redo: () => string | null;
  undoCount: () => number;
  redoCount: () => number;
  /** The sheet was changed: what was undone can no longer be redone. */
  record: (label: string, after: Sheet) => Promise<void>;
  /** The sheet as it would be after an undo or redo; undefined where there is none. */
  peek: (way: "undo" | "redo") => Sheet | undefined;
  /** That undo or redo was done. */
  moved: (way: "undo" | "redo") => Promise<void>;
};

const FIRST = { format: "pulgar.steps", version: 1 };
const LIMIT_LEN = 64 * 1024 * 1024; // tens of thousands of steps of a long piece; a larger file is begun anew

/** Where the steps of a sheet are kept: hidden, since nobody needs to look at them. */
export const stepsFile = (files: SheetFiles): string =>
  join(dirname(files.text), `.${basename(files.text).replace(/\.tab\.txt$/i, "")}.steps`);

/** Opens the steps of a sheet. Where the sheet is no longer what the last step left, that change is a step of its own.
 * @param onTrouble told once when the file cannot be written; the steps are then known until the review ends, and no mend is held up */
export async function openHistory(
  path: string,
  codec: DocCodec,
  sheet: Sheet,
  onTrouble: (e: unknown) => void = () => undefined,
): Promise<History> {
  const now = asDoc(codec.toJson(sheet));
  const read = await readSteps(path);
  let doc = read?.doc ?? now;
  let hasFile = read !== undefined;
  const done: Step[] = read?.done ?? [];
  let undone: Step[] = read?.undone ?? [];

  let isKept = true;

  async function write(line: Line): Promise<void> {
    if (!isKept) return;
    try {
      if (!hasFile) await writeWhole(path, lineOf({ ...FIRST, sheet: doc }), { force: true });
      hasFile = true;
      await appendFile(path, lineOf(line));
    } catch (e) {
      isKept = false;
      onTrouble(e);
    }
  }
  async function record(label: string, after: Doc): Promise<void> {
    const step = { label, changes: changesBetween(doc, after) };
    await write(step);
    done.push(step);
    undone = [];
    doc = after;
  }
  const listOf = (way: "undo" | "redo"): Step[] => (way === "undo" ? done : undone);
  const docAfter = (way: "undo" | "redo"): Doc | undefined => {
    const step = listOf(way).at(-1);
    return step && withChanges(doc, step.changes, way === "undo" ? "back" : "on");
  };
  if (!sameJson(doc, now)) await record("the change made outside", now);

  return {
    undo: () => done.at(-1)?.label ?? null,
    redo: () => undone.at(-1)?.label ?? null,
    undoCount: () => done.length,
    redoCount: () => undone.length,
    record: (label, after) => record(label, asDoc(codec.toJson(after))),
    peek(way) {
      const next = docAfter(way);
      return next && codec.fromJson(next);
    },
    async moved(way) {
      const next = docAfter(way);
      const step = listOf(way).pop();
      if (!next || !step) throw new Error(`nothing to ${way}`);
      listOf(way === "undo" ? "redo" : "undo").push(step);
      doc = next;
      await write({ way });
    },
  };
}

const lineOf = (value: unknown): string => `${JSON.stringify(value)}\n`;

/** As it would be read from a file: nothing undefined, nothing shared. */
const asDoc = (value: object): Doc => JSON.parse(JSON.stringify(value)) as Doc;

/** The steps of a file, done again from the first; undefined where they cannot be. A last line that was cut short was never a step. */
async function readSteps(path: string): Promise<{ doc: Doc; done: Step[]; undone: Step[] } | undefined> {
  try {
    if ((await stat(path)).size > LIMIT_LEN) return undefined;
    const text = await readFile(path, "utf8");
    const lines = text.split("\n");
    const isCut = lines.pop() !== "";
    const [first, ...rest] = lines.map((line) => JSON.parse(line) as unknown);
    const { format, version, sheet } = first as { format: unknown; version: unknown; sheet: Doc };
    if (format !== FIRST.format || version !== FIRST.version || typeof sheet !== "object") return undefined;
    let doc = sheet;
    const done: Step[] = [];
    let undone: Step[] = [];
    for (const line of rest as Line[]) {
      if ("way" in line) {
        const [from, to] = line.way === "undo" ? [done, undone] : [undone, done];
        const step = from.pop();
        if (!step) return undefined;
        doc = withChanges(doc, step.changes, line.way === "undo" ? "back" : "on");
        to.push(step);
      } else {
        doc = withChanges(doc, line.changes, "on");
        done.push({ label: String(line.label), changes: line.changes });
        undone = [];
      }
    }
    if (isCut) await writeWhole(path, `${lines.join("\n")}\n`, { force: true });
    return { doc, done, undone };
  } catch {
    return undefined; // not there, or no steps of ours: begun anew with the next mend
  }
}
