/** What two JSON documents of one shape differ in, small enough to keep for every step, and usable both ways. */

type Doc = Readonly<Record<string, unknown>>;

/** A change of one field. Of a list: from `at` on, `gone` gave way to `come`. Of anything else: `before` and `after`, absent where the field was. */
export type DocChange =
  | { field: string; at: number; gone: unknown[]; come: unknown[] }
  | { field: string; before?: unknown; after?: unknown };

export const sameJson = (a: unknown, b: unknown): boolean => JSON.stringify(a) === JSON.stringify(b);

/** @returns [] where the two are the same */
export function changesBetween(before: Doc, after: Doc): DocChange[] {
  const changes: DocChange[] = [];
  for (const field of new Set([...Object.keys(before), ...Object.keys(after)])) {
    const [a, b] = [before[field], after[field]];
    if (Array.isArray(a) && Array.isArray(b)) {
      const change = listChange(field, a, b);
      if (change) changes.push(change);
    } else if (!sameJson(a, b))
      changes.push({
        field,
        ...(a === undefined ? {} : { before: a }),
        ...(b === undefined ? {} : { after: b }),
      });
  }
  return changes;
}

function listChange(field: string, a: readonly unknown[], b: readonly unknown[]): DocChange | undefined {
  const [textA, textB] = [a.map((x) => JSON.stringify(x)), b.map((x) => JSON.stringify(x))];
  let at = 0;
  while (at < textA.length && at < textB.length && textA[at] === textB[at]) at++;
  if (at === textA.length && at === textB.length) return undefined;
  let same = 0;
  while (
    same < Math.min(textA.length, textB.length) - at &&
    textA[textA.length - 1 - same] === textB[textB.length - 1 - same]
  )
    same++;
  return { field, at, gone: a.slice(at, a.length - same), come: b.slice(at, b.length - same) };
}

/** The document after the changes, or before them. @throws Error where they do not belong to this document */
export function withChanges(doc: Doc, changes: readonly DocChange[], way: "on" | "back"): Doc {
  const next: Record<string, unknown> = { ...doc };
  for (const change of changes) {
    const { field } = change;
    if ("at" in change) {
      const [out, into] = way === "on" ? [change.gone, change.come] : [change.come, change.gone];
      const list = next[field];
      if (!Array.isArray(list) || !sameJson(list.slice(change.at, change.at + out.length), out))
        throw new Error(`${field}: not as the step left it`);
      next[field] = [...list.slice(0, change.at), ...into, ...list.slice(change.at + out.length)];
    } else {
      const [from, to] = way === "on" ? [change.before, change.after] : [change.after, change.before];
      if (!sameJson(next[field], from)) throw new Error(`${field}: not as the step left it`);
      if (to === undefined) delete next[field];
      else next[field] = to;
    }
  }
  return next;
}
