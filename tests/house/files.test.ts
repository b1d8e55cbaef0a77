// File length, non-null assertions, test titles, names of files. Source: DEVELOPERS.md, "House rules".
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { COMMANDS } from "../../cli/command-table.js";
import { ROOT } from "../helpers/needs.js";
import { sourceFiles } from "./source-files.js";

test("house files: no file over 400 lines, tables excepted", () => {
  const long = sourceFiles("src", "cli", "tests").filter(
    (f) => f.lines > 400 && !f.path.endsWith("-table.ts"),
  );
  expect(long.map((f) => `${f.path}: ${f.lines}`)).toEqual([]);
});

test("house files: x[i]! only where a hot loop walks typed arrays", () => {
  const allowed = /^src\/(dsp|notes|play)\/|^src\/hands\/search[^/]*\.ts$/;
  const wrong = sourceFiles("src").filter((f) => !allowed.test(f.path) && /[\w)\]]\]!(?!=)/.test(f.text));
  expect(wrong.map((f) => f.path)).toEqual([]);
});

test("house files: test titles are unique in the whole tree", () => {
  const seen = new Map<string, string>();
  const twice: string[] = [];
  for (const { path, text } of sourceFiles("tests")) {
    if (!path.endsWith(".test.ts")) continue;
    for (const match of text.matchAll(/\b(?:test|it)\(\s*"((?:[^"\\]|\\.)*)"/g)) {
      const title = match[1] ?? "";
      if (seen.has(title)) twice.push(`${title}: ${seen.get(title)} and ${path}`);
      seen.set(title, path);
    }
  }
  expect(seen.size).toBeGreaterThan(100);
  expect(twice).toEqual([]);
});

test("house files: the top level is what the house says", () => {
  const visible = readdirSync(ROOT).filter(
    (n) => !n.startsWith(".") && !["node_modules", "dist", "demo"].includes(n),
  );
  const known = [
    "package.json",
    "package-lock.json",
    "tsconfig.json",
    "tsconfig.build.json",
    "biome.json",
    "vitest.config.ts",
  ];
  const rooms = ["README.md", "DEVELOPERS.md", "LICENSE", "src", "cli", "models", "tests", "samples"];
  expect(visible.filter((n) => ![...known, ...rooms].includes(n) && !n.endsWith(".tgz"))).toEqual([]);
});

test("house files: every command stands in README with its flags' home", () => {
  const readme = readFileSync(join(ROOT, "README.md"), "utf8");
  expect(COMMANDS.filter((c) => !readme.includes(`pulgar ${c.name}`)).map((c) => c.name)).toEqual([]);
});
