/** The program as it is shipped, for tests that start it as a process: every source file turned into JavaScript in a folder of its own. */
import { spawn } from "node:child_process";
import { copyFileSync, mkdirSync, symlinkSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import ts from "typescript";
import { sourceFiles } from "../house/source-files.js";
import { ROOT } from "./needs.js";

/** @returns path of the built main.js */
export function builtProgram(folder: string): string {
  for (const { path, text } of sourceFiles("src", "cli")) {
    if (path.endsWith(".d.ts") || path.startsWith("cli/page/browser/")) continue;
    const out = join(folder, "dist", path.replace(/\.ts$/, ".js"));
    mkdirSync(dirname(out), { recursive: true });
    const { outputText } = ts.transpileModule(text, {
      compilerOptions: {
        target: ts.ScriptTarget.ES2023,
        module: ts.ModuleKind.ESNext,
        verbatimModuleSyntax: true,
      },
    });
    writeFileSync(out, outputText);
  }
  mkdirSync(join(folder, "dist/page"), { recursive: true });
  writeFileSync(join(folder, "dist/page/index.html"), "<!doctype html><title>page</title>");
  copyFileSync(join(ROOT, "package.json"), join(folder, "package.json"));
  for (const name of ["node_modules", "models", "samples"])
    symlinkSync(join(ROOT, name), join(folder, name), "junction"); // Windows lets everybody make those
  return join(folder, "dist/cli/main.js");
}

export type Ended = { code: number | null; out: string; err: string };

/** Runs the built program to its end. */
export function runBuilt(
  main: string,
  argv: readonly string[],
  options: { cwd?: string; env?: NodeJS.ProcessEnv } = {},
): Promise<Ended> {
  const child = spawn(process.execPath, [main, ...argv], {
    cwd: options.cwd,
    env: options.env ?? process.env,
    stdio: ["ignore", "pipe", "pipe"],
  });
  const ended: Ended = { code: null, out: "", err: "" };
  child.stdout.on("data", (part: Buffer) => {
    ended.out += part.toString();
  });
  child.stderr.on("data", (part: Buffer) => {
    ended.err += part.toString();
  });
  return new Promise((done) => {
    child.on("close", (code) => done({ ...ended, code }));
  });
}
