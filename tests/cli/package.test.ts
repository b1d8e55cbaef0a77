// The package as npm ships it, unpacked in an empty folder beside the dependencies that it names and nothing else: no install script, no
// compiler, no Python, no ffmpeg. Sources: the project's own contract (README); package layout by npm's documentation of "files", "exports".
import { spawnSync } from "node:child_process";
import {
  cpSync,
  existsSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from "node:fs";
import { dirname, join } from "node:path";
import { beforeAll, expect, test } from "vitest";
import { sheetFromText } from "../../src/sheet/parse.js";
import { ROOT } from "../helpers/needs.js";
import { tempFolder } from "../helpers/run-cli.js";

const folder = tempFolder();
const home = join(folder, "home"); // where a user has installed it
const installed = join(home, "node_modules/pulgar");
const MAIN = join(installed, "dist/cli/main.js");
const TSC = join(ROOT, "node_modules/typescript/bin/tsc");
const BARE = { PATH: join(folder, "no-programs"), HOME: home, SystemRoot: process.env.SystemRoot }; // Windows starts nothing without the last

type Lock = { packages: Record<string, { dev?: boolean; optional?: boolean }> };

const node = (args: readonly string[], env: NodeJS.ProcessEnv = BARE) =>
  spawnSync(process.execPath, [...args], { cwd: home, encoding: "utf8", env });

beforeAll(() => {
  // what `npm pack` takes, with the built program in place: package.json says which files
  const tree = join(folder, "tree");
  mkdirSync(tree);
  for (const name of ["package.json", "README.md", "LICENSE", "models", "samples"])
    cpSync(join(ROOT, name), join(tree, name), { recursive: true });
  const built = spawnSync(process.execPath, [
    TSC,
    "-p",
    join(ROOT, "tsconfig.build.json"),
    "--outDir",
    join(tree, "dist"),
  ]);
  expect(existsSync(join(tree, "dist/cli/main.js")), built.stdout.toString()).toBe(true);
  mkdirSync(join(tree, "dist/page"));
  writeFileSync(join(tree, "dist/page/index.html"), "<!doctype html><title>page</title>");
  const packed = spawnSync("npm", ["pack", "--ignore-scripts", "--json", "--pack-destination", folder], {
    cwd: tree,
    encoding: "utf8",
    shell: process.platform === "win32", // npm is a script there
  });
  expect(packed.status, packed.stderr).toBe(0);
  const tarball = readdirSync(folder).find((name) => name.endsWith(".tgz"));
  mkdirSync(installed, { recursive: true });
  const unpacked = spawnSync("tar", [
    "-xzf",
    join(folder, tarball ?? ""),
    "-C",
    installed,
    "--strip-components=1",
  ]);
  expect(unpacked.status).toBe(0);
  const lock = JSON.parse(readFileSync(join(ROOT, "package-lock.json"), "utf8")) as Lock;
  for (const [path, { dev }] of Object.entries(lock.packages)) {
    if (path === "" || dev || path.lastIndexOf("node_modules/") > 0 || !existsSync(join(ROOT, path)))
      continue;
    mkdirSync(dirname(join(home, path)), { recursive: true });
    symlinkSync(join(ROOT, path), join(home, path), "junction");
  }
  writeFileSync(join(home, "package.json"), '{ "type": "module" }');
  cpSync(join(ROOT, "samples/mixolydian-over-a.wav"), join(home, "mixolydian-over-a.wav"));
}, 300_000);

test("package: holds the program, its types, weights and samples, and nothing of the workshop", () => {
  const files = readdirSync(installed, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile())
    .map((entry) =>
      join(entry.parentPath, entry.name)
        .slice(installed.length + 1)
        .replaceAll("\\", "/"),
    );
  for (const wanted of [
    "dist/cli/main.js",
    "dist/cli/command-worker.js",
    "dist/cli/net-worker.js",
    "dist/cli/essentia-worker.js",
    "dist/src/pipeline.js",
    "dist/src/pipeline.d.ts",
    "dist/page/index.html",
    "models/listener/listener.onnx",
    "models/listener/card.json",
    "samples/mixolydian-over-a.wav",
    "LICENSE",
    "README.md",
  ])
    expect(files).toContain(wanted);
  expect(files.filter((name) => /\.py$|\.jsonl$|^tests|^src|^cli|(?<!\.d)\.ts$|\.tgz$/.test(name))).toEqual(
    [],
  );
});

test("package: runs with Node alone, and says which parts are in use", () => {
  const version = node([MAIN, "--version"]);
  expect(version.status).toBe(0);
  expect(version.stdout).toMatch(/^pulgar \d+\.\d+\.\d+\nnode \d+\.\d+\.\d+ on .+\nlistener: .+\nffmpeg: /);
  expect(version.stdout).toContain("ffmpeg: not found (rare formats are refused, practice tracks stay WAV)");
  const drafted = node([
    MAIN,
    "transcribe",
    "mixolydian-over-a.wav",
    "--tempo",
    "96",
    "--out",
    "sheets",
    "--quiet",
  ]);
  expect([drafted.status, drafted.stderr]).toEqual([0, expect.stringContaining("wrote ")]);
  expect(
    sheetFromText(readFileSync(join(home, "sheets/mixolydian-over-a.tab.txt"), "utf8")).sheet.notes.length,
  ).toBeGreaterThan(50);
}, 180_000);

test("package: without ffmpeg a compressed practice track is refused with the way out, and WAV is made", () => {
  const sheet = join(home, "sheets/mixolydian-over-a.sheet.json");
  const args = [
    MAIN,
    "practice",
    sheet,
    "--take",
    "mixolydian-over-a.wav",
    "--slow",
    "80",
    "--out",
    "practice",
    "--quiet",
  ];
  const refused = node([...args, "--encode", "mp3"]);
  expect([refused.status, refused.stderr]).toEqual([2, expect.stringMatching(/ffmpeg/)]);
  expect(existsSync(join(home, "practice"))).toBe(false);
  const made = node(args);
  expect([made.status, readdirSync(join(home, "practice")).every((name) => name.endsWith(".wav"))]).toEqual([
    0,
    true,
  ]);
}, 180_000);

test("package: README's example runs, and its types resolve as node16 and as a bundler finds them", () => {
  const code =
    /```js\n(import \{ draftSheet \}[\s\S]*?)```/.exec(
      readFileSync(join(installed, "README.md"), "utf8"),
    )?.[1] ?? "";
  expect(code).toContain('from "pulgar"');
  writeFileSync(join(home, "example.mjs"), code);
  const ran = node(["example.mjs"]);
  expect([ran.status, ran.stderr]).toEqual([0, ""]);
  expect(sheetFromText(ran.stdout).sheet.notes.length).toBeGreaterThan(50);
  const typed = `${code}\nexport const tempoBpm: number = sheet.grid.tempoBpm;\n// @ts-expect-error a title is text\nvoid draftSheet(take, { title: 5 });\n`;
  writeFileSync(join(home, "example.mts"), typed);
  for (const [module, resolution] of [
    ["node16", "node16"],
    ["esnext", "bundler"],
  ] as const) {
    const checked = node(
      [
        TSC,
        "--noEmit",
        "--strict",
        "--skipLibCheck",
        "--target",
        "es2023",
        "--lib",
        "es2023,dom",
        "--module",
        module,
        "--moduleResolution",
        resolution,
        "example.mts",
      ],
      process.env,
    );
    expect([module, checked.stdout]).toEqual([module, ""]);
  }
}, 240_000);

test("package: without the native runtime the other one takes its place, with a word about what is lost", () => {
  for (const name of ["onnxruntime-node"]) rmSync(join(home, "node_modules", name));
  const version = node([MAIN, "--version"]);
  expect(version.stdout).toContain(
    "onnxruntime-web (wasm: about 5 times slower; the native runtime is missing)",
  );
  const drafted = node([MAIN, "transcribe", "mixolydian-over-a.wav", "--tempo", "96", "--out", "by-wasm"]);
  expect([drafted.status, drafted.stderr]).toEqual([
    0,
    expect.stringContaining("note: the native runtime (onnxruntime-node) is missing"),
  ]);
  expect(readFileSync(join(home, "by-wasm/mixolydian-over-a.tab.txt"), "utf8")).toBe(
    readFileSync(join(home, "sheets/mixolydian-over-a.tab.txt"), "utf8"),
  );
}, 240_000);
