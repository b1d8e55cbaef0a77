import { readdirSync, readFileSync } from "node:fs";
import { join, relative, sep } from "node:path";
import { ROOT } from "../helpers/needs.js";

export type SourceFile = { path: string; text: string; lines: number };

/** Every TypeScript file under some top folders, by path with forward slashes. */
export function sourceFiles(...tops: string[]): SourceFile[] {
  return tops
    .flatMap((top) => readdirSync(join(ROOT, top), { recursive: true, withFileTypes: true }))
    .filter((entry) => entry.isFile() && entry.name.endsWith(".ts"))
    .map((entry) => {
      const full = join(entry.parentPath, entry.name);
      const text = readFileSync(full, "utf8");
      return { path: relative(ROOT, full).split(sep).join("/"), text, lines: text.split("\n").length };
    })
    .sort((a, b) => (a.path < b.path ? -1 : 1));
}

/** Imports of a file: what is named, and whether only types are taken. */
export function importsOf(text: string): { from: string; isTypeOnly: boolean }[] {
  const found: { from: string; isTypeOnly: boolean }[] = [];
  for (const match of text.matchAll(/^(?:import|export)\s+(type\s+)?[^;]*?from\s+"([^"]+)"/gms)) {
    const body = match[0];
    const braces = /\{([^}]*)\}/s.exec(body)?.[1];
    const names =
      braces
        ?.split(",")
        .map((n) => n.trim())
        .filter(Boolean) ?? [];
    const allTypes =
      names.length > 0 && names.every((n) => n.startsWith("type ")) && !/import\s+\w+\s*,/.test(body);
    found.push({ from: match[2] ?? "", isTypeOnly: match[1] !== undefined || allTypes });
  }
  for (const match of text.matchAll(/^import\s+"([^"]+)"/gm))
    found.push({ from: match[1] ?? "", isTypeOnly: false });
  for (const match of text.matchAll(/\bimport\("([^"]+)"\)/g))
    found.push({ from: match[1] ?? "", isTypeOnly: false });
  return found;
}
