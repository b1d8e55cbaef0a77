// What ships may be shipped together under AGPL-3.0-or-later, and every package that is asked for stands in DEVELOPERS.md with its licence.
// Source of what is compatible: the Free Software Foundation's "Various licenses and comments about them" (GPL-compatible), and section 13 of
// the (A)GPL version 3 for the two together; fonts under OFL-1.1 are bundled, not linked (its own FAQ, 1.21).
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, test } from "vitest";
import { ROOT } from "../helpers/needs.js";

const COMPATIBLE = [
  "MIT",
  "ISC",
  "0BSD",
  "BSD-2-Clause",
  "BSD-3-Clause",
  "Apache-2.0",
  "BlueOak-1.0.0",
  "(MIT OR CC0-1.0)",
  "OFL-1.1",
  "LGPL-2.1-or-later",
  "LGPL-3.0-or-later",
  "GPL-2.0-or-later",
  "GPL-3.0-or-later",
  "AGPL-3.0",
];

/** Packages whose package.json says nothing, or less than their sources say. */
const READ_BY_HAND: Record<string, string> = {
  "node_modules/@audio/decode-aac": "GPL-2.0-or-later", // it says GPL-2.0 for FAAD2, whose files say "or (at your option) any later version"
  "node_modules/async": "MIT", // "licenses" in its package.json, and its LICENSE
  "node_modules/parse-cache-control": "BSD-3-Clause", // its LICENSE
  "node_modules/png-js": "MIT", // its LICENSE
};

type Lock = { packages: Record<string, { dev?: boolean; license?: string }> };
type Manifest = Record<"dependencies" | "optionalDependencies" | "devDependencies", Record<string, string>>;
const lock = JSON.parse(readFileSync(join(ROOT, "package-lock.json"), "utf8")) as Lock;
const manifest = JSON.parse(readFileSync(join(ROOT, "package.json"), "utf8")) as Manifest;

test("house licences: everything that ships is compatible with AGPL-3.0-or-later", () => {
  const shipped = Object.entries(lock.packages).filter(([path, { dev }]) => path !== "" && !dev);
  expect(shipped.length).toBeGreaterThan(100);
  const odd = shipped
    .map(([path, { license }]) => [path, READ_BY_HAND[path] ?? license ?? "none"] as const)
    .filter(([, licence]) => !COMPATIBLE.includes(licence));
  expect(odd).toEqual([]);
});

test("house licences: every package that is asked for stands in DEVELOPERS.md", () => {
  const text = readFileSync(join(ROOT, "DEVELOPERS.md"), "utf8");
  const names = Object.keys({
    ...manifest.dependencies,
    ...manifest.optionalDependencies,
    ...manifest.devDependencies,
  });
  // families stand in one row: the fonts, the guitars, the types
  const short = (name: string): string =>
    name
      .replace(/^@(fontsource|fastify|biomejs)\/|^tonejs-instrument-guitar/, "")
      .replace(/^@types\/.*/, "@types");
  expect(names.filter((name) => !text.includes(short(name)))).toEqual([]);
});
