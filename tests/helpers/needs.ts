import { spawnSync } from "node:child_process";
import { existsSync } from "node:fs";
import { join, resolve } from "node:path";
import { test } from "vitest";

/** Project root, where tests run. */
export const ROOT = resolve(import.meta.dirname, "../..");

/** Reference material that lies beside a builder's checkout and never inside it; PULGAR_SHARED names another place. */
export const SHARED = process.env.PULGAR_SHARED ?? join(ROOT, "..", "shared");

/** Does the program answer? Asked once for each name. */
const answers = new Map<string, boolean>();
export function hasProgram(name: string, args: readonly string[] = ["--version"]): boolean {
  const key = [name, ...args].join(" ");
  const known = answers.get(key);
  if (known !== undefined) return known;
  const found = spawnSync(name, args, { stdio: "ignore" }).error === undefined;
  answers.set(key, found);
  return found;
}

/** Debian's Python with a module, such as mir_eval. */
export function hasPython(moduleName: string): boolean {
  const key = `python ${moduleName}`;
  const known = answers.get(key);
  if (known !== undefined) return known;
  const found =
    spawnSync("/usr/bin/python3", ["-c", `import ${moduleName}`], { stdio: "ignore" }).status === 0;
  answers.set(key, found);
  return found;
}

export const hasShared = (path: string): boolean => existsSync(join(SHARED, path));

/** A test that runs where `needed` is present and is skipped by name, saying what it wants, where it is not. */
export function testNeeding(
  needed: boolean,
  what: string,
  title: string,
  body: () => void | Promise<void>,
): void {
  if (needed) test(title, body);
  else test.skip(`${title} (skipped: needs ${what})`, body);
}
