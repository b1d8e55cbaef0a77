/** Reading values of unknown make, with the path of what is wrong. In: parsed JSON. Out: checked values.
 * Lists and texts are bounded, so that a hostile file cannot fill the memory further in. */
import { PulgarError } from "../base/errors.js";

/** A value and where it stands, such as `notes[3].fret`. */
export type At = { value: unknown; path: string };

const MOST_TEXT = 10_000;

/** @throws PulgarError "bad-sheet" naming the path */
export function refuse(at: At, want: string): never {
  const { value } = at;
  const found =
    value === null
      ? "null"
      : Array.isArray(value)
        ? `a list of ${value.length}`
        : typeof value === "string"
          ? `"${value.slice(0, 40)}"`
          : typeof value === "number"
            ? String(value)
            : typeof value === "undefined"
              ? "nothing"
              : typeof value;
  throw new PulgarError(
    "bad-sheet",
    `${at.path || "the document"}: want ${want}, found ${found}`,
    "Mend the file there, take it from a backup, or draft the sheet again.",
  );
}

/** A member of an object. */
export function member(at: At, name: string): At {
  const { value } = at;
  if (typeof value !== "object" || value === null || Array.isArray(value)) refuse(at, "an object");
  const has = Object.hasOwn(value as object, name);
  return {
    value: has ? (value as Record<string, unknown>)[name] : undefined,
    path: at.path === "" ? name : `${at.path}.${name}`,
  };
}

export const isAbsent = (at: At): boolean => at.value === undefined;

/** A number within bounds. */
export function numberOf(at: At, low: number, high: number): number {
  const { value } = at;
  if (typeof value !== "number" || !Number.isFinite(value) || value < low || value > high)
    return refuse(at, `a number from ${low} to ${high}`);
  return value;
}

/** A whole number within bounds. */
export function wholeOf(at: At, low: number, high: number): number {
  const value = numberOf(at, low, high);
  return Number.isInteger(value) ? value : refuse(at, `a whole number from ${low} to ${high}`);
}

export function textOf(at: At): string {
  const { value } = at;
  if (typeof value !== "string" || value.length > MOST_TEXT)
    return refuse(at, `a text of at most ${MOST_TEXT} characters`);
  return value;
}

export function oneOf<T extends string>(at: At, accepted: readonly T[]): T {
  const found = accepted.find((a) => a === at.value);
  return found ?? refuse(at, `one of ${accepted.join(", ")}`);
}

/** A list, each entry read by `read`. */
export function listOf<T>(at: At, most: number, read: (entry: At) => T): T[] {
  const { value } = at;
  if (!Array.isArray(value) || value.length > most) return refuse(at, `a list of at most ${most}`);
  return value.map((entry, idx) => read({ value: entry, path: `${at.path}[${idx}]` }));
}

/** `read` of a member, or `otherwise` where it is absent. */
export const either = <T>(at: At, read: (at: At) => T, otherwise: T): T =>
  isAbsent(at) ? otherwise : read(at);

/** { name: value } when the member is there, else {}; for optional fields. */
export const optional = <K extends string, T>(at: At, name: K, read: (at: At) => T): { [P in K]?: T } => {
  const inner = member(at, name);
  return isAbsent(inner) ? {} : ({ [name]: read(inner) } as { [P in K]?: T });
};
