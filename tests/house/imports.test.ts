// The import rules of the house: tools under stages, stages in order, Node only in cli/. Source: DEVELOPERS.md, "Who may import whom".
import { posix } from "node:path";
import { expect, test } from "vitest";
import { importsOf, sourceFiles } from "./source-files.js";

const TOOLS = ["base", "theory", "dsp"];
const STAGES = ["audio", "notes", "grid", "harmony", "hands", "sheet", "check", "export", "play"];
const files = sourceFiles("src");

const roomOf = (path: string): string =>
  path.split("/").length === 2 ? "pipeline" : (path.split("/")[1] ?? "");

const ours = files.flatMap(({ path, text }) =>
  importsOf(text)
    .filter((i) => i.from.startsWith("."))
    .map((i) => ({ path, ...i, target: posix.normalize(posix.join(posix.dirname(path), i.from)) })),
);

test("house imports: there are files and imports to look at", () => {
  expect(files.length).toBeGreaterThan(60);
  expect(ours.length).toBeGreaterThan(150);
});

test("house imports: every room is a tool or a stage", () => {
  expect(
    [...new Set(files.map((f) => roomOf(f.path)))].filter(
      (r) => r !== "pipeline" && !TOOLS.includes(r) && !STAGES.includes(r),
    ),
  ).toEqual([]);
});

test("house imports: tools import only tools under them", () => {
  const allowed: Record<string, string[]> = {
    base: ["base"],
    theory: ["theory", "base"],
    dsp: ["dsp", "base"],
  };
  const wrong = ours.filter(
    (i) => TOOLS.includes(roomOf(i.path)) && !allowed[roomOf(i.path)]?.includes(roomOf(i.target)),
  );
  expect(wrong.map((i) => `${i.path} → ${i.target}`)).toEqual([]);
});

test("house imports: a stage calls tools and itself, takes types from earlier stages, nothing from later ones", () => {
  const wrong = ours.filter((i) => {
    const [from, to] = [roomOf(i.path), roomOf(i.target)];
    if (!STAGES.includes(from) || from === to || TOOLS.includes(to)) return false;
    return !(i.isTypeOnly && STAGES.indexOf(to) >= 0 && STAGES.indexOf(to) < STAGES.indexOf(from));
  });
  expect(wrong.map((i) => `${i.path} → ${i.target}`)).toEqual([]);
});

test("house imports: src never reaches into cli, tests or Node", () => {
  const wrong = files.flatMap(({ path, text }) =>
    importsOf(text)
      .filter(
        (i) => i.from.startsWith("node:") || /\/(cli|tests)\//.test(posix.join(posix.dirname(path), i.from)),
      )
      .map((i) => `${path} → ${i.from}`),
  );
  expect(wrong).toEqual([]);
});

test("house imports: src has no clock, chance, console or process", () => {
  const wrong = files.flatMap(({ path, text }) =>
    [
      ...text
        .replace(/\/\*[\s\S]*?\*\/|\/\/.*$/gm, "")
        .matchAll(
          /\b(Math\.random|Date\.now|performance\.now|new Date\(\)|console\.\w+|process\.\w+|setTimeout|fetch)\b/g,
        ),
    ].map((m) => `${path}: ${m[0]}`),
  );
  expect(wrong).toEqual([]);
});

test("house imports: no barrels", () => {
  const barrels = sourceFiles("src", "cli").filter(({ path, text }) => {
    const code = text.replace(/\/\*[\s\S]*?\*\/|\/\/.*$/gm, "").trim();
    const statements = code
      .split(/;\s*\n/)
      .map((s) => s.trim())
      .filter(Boolean);
    return (
      path.endsWith("/index.ts") ||
      (statements.length > 0 && statements.every((s) => /^export\s+(type\s+)?(\*|\{)[\s\S]*from\s+"/.test(s)))
    );
  });
  expect(barrels.map((f) => f.path)).toEqual([]);
});

test("house imports: the page holds no music logic: tools, types, and the plucked string to hear a sheet by", () => {
  const allowed = /src\/(base|theory)\/|src\/play\/(pluck|body|strings)|src\/sheet\/mode-name/;
  const wrong = sourceFiles("cli").flatMap(({ path, text }) =>
    path.startsWith("cli/page/browser/")
      ? importsOf(text)
          .filter((i) => i.from.includes("/src/") && !i.isTypeOnly && !allowed.test(i.from))
          .map((i) => `${path} → ${i.from}`)
      : [],
  );
  expect(wrong).toEqual([]);
});
